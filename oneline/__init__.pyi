from oneline.api import Builder as Builder
from oneline.api import Handle as Handle
from oneline.api import HasProblems as HasProblems
from oneline.api import add_recording as add_recording
from oneline.api import bounds as bounds
from oneline.api import check as check
from oneline.api import export as export
from oneline.api import field_checks as field_checks
from oneline.api import fits as fits
from oneline.api import identify as identify
from oneline.api import network_graph as network_graph
from oneline.api import open as open
from oneline.api import plan_outage as plan_outage
from oneline.api import print_door as print_door
from oneline.api import print_outage as print_outage
from oneline.api import print_record as print_record
from oneline.api import read as read
from oneline.api import remedies as remedies
from oneline.api import save as save
from oneline.api import with_remedy as with_remedy

__version__: str
