"""Interval data of recorders and utilities: tables in any shape they come in, and XML after NAESB REQ.21 (ESPI).

``read_recording`` reads a file and says what it leaves open; ``to_record`` makes the demand record of an item of it.
"""

from oneline.files.intervals.asking import QUESTIONS, Choice, Question
from oneline.files.intervals.into import NeedsAnswers, read_record, with_record
from oneline.files.intervals.recording import Imported, Preview, Recording, read_recording, to_record

__all__ = [
    "QUESTIONS", "Choice", "Imported", "NeedsAnswers", "Preview", "Question", "Recording", "read_record", "read_recording",
    "to_record", "with_record",
]  # fmt: skip
