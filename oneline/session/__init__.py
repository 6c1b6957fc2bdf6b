"""The open drawing, its history, selection and current study; tells listeners what changed."""

from oneline.session.session import Listener, Session, Step

__all__ = ["Listener", "Session", "Step"]
