"""Long work in slices on the window's own thread: a few milliseconds at a time, between which the window answers."""

from __future__ import annotations

import gc
from time import perf_counter
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from oneline.study.trials import Steps

#: How long one slice may take; one frame of a screen is 16 ms.
SLICE_S = 0.008


class Sliced(QObject):
    """Carries on with steps of the study while the event loop runs. One piece of work at a time: the next drops it."""

    #: The answer, when the work has come to its end.
    done = Signal(object)
    #: The work failed; what was raised.
    failed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps: Steps[Any] | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._go_on)
        self.destroyed.connect(lambda *_: gc.enable())

    @property
    def busy(self) -> bool:
        return self._steps is not None

    def start(self, steps: Steps[Any]) -> None:
        """Begin new work; what was under way is dropped."""
        self.cancel()
        self._steps = steps
        # Hardly anything in it is garbage in circles, and looking for that stops the window for a tenth of a second.
        gc.disable()
        self._timer.start()

    def cancel(self) -> None:
        """Drop the work that is under way."""
        self._timer.stop()
        if self._steps is not None:
            self._steps.close()
            self._steps = None
            gc.enable()

    def _go_on(self) -> None:
        steps, until = self._steps, perf_counter() + SLICE_S
        if steps is None:
            return
        try:
            while perf_counter() < until:
                next(steps)
        except StopIteration as end:
            self._finish()
            self.done.emit(end.value)
        except Exception as bad:
            self._finish()
            self.failed.emit(bad)
            raise

    def _finish(self) -> None:
        self._timer.stop()
        self._steps = None
        gc.enable()
