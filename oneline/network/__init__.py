"""Topology: nodes and branches, the feeding forest, what is live, isolation. The only room that uses networkx."""

from oneline.network.feeding import Feeding, build_feeding
from oneline.network.opened import Ways, ways
from oneline.network.topology import Branch, Network, build_network

__all__ = ["Branch", "Feeding", "Network", "Ways", "build_feeding", "build_network", "ways"]
