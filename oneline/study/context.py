"""What the subjects of the study share: the view of the drawing, its network, how it is fed, what is live, the numbers."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from oneline.model import ConductorRun, Disconnect, Drawing, Item, Transformer
from oneline.model.quick import quick
from oneline.network import Branch, Feeding, Network, build_feeding, build_network
from oneline.study.reads import Reads

if TYPE_CHECKING:
    from oneline.network.live import LiveState
    from oneline.study.available import Available
    from oneline.study.demand import Demand
    from oneline.study.loads import LoadEntry
    from oneline.study.numbers import Numbers

T = TypeVar("T")
#: Forms of disconnect that protect against overcurrent.
PROTECTING_FORMS = ("breaker", "fused switch", "fuses")


def protects(item: Item) -> bool:
    """Whether the item is an overcurrent device."""
    return isinstance(item, Disconnect) and item.form in PROTECTING_FORMS


@quick
@dataclass(frozen=True)
class Protection:
    """The overcurrent device toward the source that protects a point, and what lies between.

    ``device`` is ``None`` when the point is ahead of every overcurrent device (service conductors, or a source's own
    conductors). ``ratio``: device amperes times ``ratio`` are amperes at the point (product of transformer ratios, 1
    without a transformer). ``transformers``: passed on the way, nearest first. ``source``: id of the feeding source.
    """

    device: Disconnect | None
    branches: tuple[Branch, ...]
    transformers: tuple[Transformer, ...]
    source: str


@dataclass
class Context:
    """One view of one drawing under one edition. Everything is computed once and on demand."""

    full: Drawing
    view: str
    edition: int
    #: Notes what is looked at, in a study that is kept from edit to edit.
    reads: Reads | None = None

    def recall(self, what: str, key: Hashable, make: Callable[[], T]) -> T:
        """Something that several answers need, worked out once; ``make`` may use nothing but the context."""
        whole = (id(self), what, key)
        if self.reads is not None:
            return self.reads.recall(whole, make)
        memos: dict[Hashable, T] = self.__dict__.setdefault("_memos", {})
        if whole not in memos:
            memos[whole] = make()
        return memos[whole]

    def settled(self, what: Hashable, make: Callable[[], T]) -> T:
        """Something that follows from the network alone, worked out once: no edit of a value changes it."""
        memos: dict[Hashable, T] = self.__dict__.setdefault("_settled", {})
        if what not in memos:
            if self.reads is None:
                memos[what] = make()
            else:
                with self.reads.unseen():
                    memos[what] = make()
        return memos[what]

    def seen(self, what: str, node: int) -> None:
        """Somebody looks at figures of a node: "load", "fault", "current" or "drop"."""
        if self.reads is not None and self.reads.frame is not None:
            self.reads.frame.add((id(self), what, node))

    @cached_property
    def drawing(self) -> Drawing:
        """Only what the view keeps."""
        return self.full.view(self.view)

    @cached_property
    def net(self) -> Network:
        return build_network(self.drawing)

    @cached_property
    def feeding(self) -> Feeding:
        return build_feeding(self.net)

    @cached_property
    def live(self) -> LiveState:
        from oneline.network.live import live_state

        return live_state(self.net)

    @cached_property
    def loads(self) -> tuple[LoadEntry, ...]:
        """Every load of the view as it is written down."""
        from oneline.study.loads import gather_loads

        return gather_loads(self)

    @cached_property
    def numbers(self) -> Numbers:
        from oneline.study.numbers import compute_numbers

        return compute_numbers(self)

    @cached_property
    def demand(self) -> Demand:
        from oneline.study.demand import compute_demand

        return compute_demand(self)

    @cached_property
    def available(self) -> Mapping[int, Available]:
        """What may still be added, by node; nodes that nothing feeds are absent."""
        from oneline.study.available import Availables

        return Availables(self)

    # ------------------------------------------------------------------------------------------------- questions
    def name(self, item_id: str) -> str:
        return self.full.name_of(item_id)

    def protection_of(self, node: int) -> Protection:
        """The nearest overcurrent device toward the source from a node."""
        passed: list[Branch] = []
        transformers: list[Transformer] = []
        for branch, _up in self.feeding.path(node):
            if protects(branch.item):
                assert isinstance(branch.item, Disconnect)
                return Protection(branch.item, tuple(passed), tuple(transformers), self.feeding.root[node])
            passed.append(branch)
            if isinstance(branch.item, Transformer):
                transformers.append(branch.item)
        return Protection(None, tuple(passed), tuple(transformers), self.feeding.root[node])

    def runs(self) -> Iterator[tuple[ConductorRun, int, int]]:
        """Conductor runs with their line-side and load-side node; runs that nothing feeds are left out."""
        for run in self.drawing.of(ConductorRun):
            if run.id not in self.net.branches:
                continue
            line, load = self.feeding.line_node(run.id), self.feeding.load_node(run.id)
            if line is not None and load is not None:
                yield run, line, load
