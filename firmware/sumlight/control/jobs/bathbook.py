"""The baths of a box: what they were mixed of, what they have taken, what is expected of the next panel.

Runs in the loop's thread, between ticks, when somebody asks; never in a tick. What a bath has taught is kept in memory
and moved on by one panel at a time.
"""

import logging
from dataclasses import dataclass, field, replace
from typing import Any

from sumlight.control.jobs import bathpictures
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError
from sumlight.craft.baths import contents, tempo
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.life import Within, name
from sumlight.craft.baths.load import Taken, Used, used
from sumlight.craft.baths.tempo import Forecast, Tempo
from sumlight.craft.checks import one_of
from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.craft.jobs import instructions, stations
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.protocol import bath_commands as commands
from sumlight.protocol.command import Command
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.baths import WASTED_KEPT, BathPanel, BathRecord, KeptBaths, WasteRecord
from sumlight.text.message import say

log = logging.getLogger(__name__)

MOST_IN_USE = 20


@dataclass
class Kept:
    """A bath with its panels and what they taught."""

    record: BathRecord
    panels: list[BathPanel] = field(default_factory=list)
    tempo: Tempo | None = None

    @property
    def contents(self) -> Contents:
        """What it was mixed of."""
        return self.record.contents

    def over(self) -> list[Taken]:
        """What the panels took that are out again."""
        return [panel.taken for panel in self.panels if panel.ended_utc is not None]

    def used(self) -> Used:
        """Share and metal."""
        return used(self.contents, self.over())

    def known(self, rate_um_min: float | None = None) -> Tempo:
        """What its panels have taught; `rate_um_min`, timed on a coupon, counts until the first was timed."""
        if self.tempo is None:
            self.tempo = tempo.fresh(self.contents)
            for taken in self.over():
                self.tempo = tempo.learned(self.tempo, self.contents, taken)
        if rate_um_min is None or self.tempo.timed:
            return self.tempo
        return replace(tempo.fresh(self.contents, rate_um_min), share=self.tempo.share, age_h=self.tempo.age_h)

    def like_last(self) -> Taken:
        """A panel like the last one, as the next is likely to be."""
        return replace(self.over()[-1], took_s=None) if self.over() else stations.USUAL[self.contents.kind]


class BathBook:
    """Every bath of one box. `kept` is what the logbook holds."""

    def __init__(self, loop: ControlLoop, kept: KeptBaths) -> None:
        self._loop = loop
        self._baths = {bath.bath_id: Kept(bath) for bath in kept.baths}
        for panel in kept.panels:
            self._baths[panel.bath_id].panels.append(panel)
        self._waste = {waste.kind: waste for waste in kept.waste}
        self._last_id, self._last_panel_id = kept.last_bath_id, kept.last_bath_panel_id
        if kept.unreadable:
            log.error("%d rows about baths cannot be read; they are left as they are", kept.unreadable)

    # -- commands ------------------------------------------------------------------------------------------------

    def look_up(self, asked: Command) -> dict[str, Any] | None:
        """Answer a question about baths; None for a command that changes something."""
        match asked:
            case commands.Baths():
                in_use = [self._short(bath) for bath in self._in_use()]
                wasted = [self._short(bath) for bath in self._baths.values() if bath.record.waste_utc is not None]
                return {"baths": in_use, "wasted": wasted, "containers": self._containers()}
            case commands.Bath(bath_id=bath_id):
                return self._whole(self._bath(bath_id))
        return None

    def change(self, asked: Command) -> dict[str, Any] | None:
        """Carry out a command that changes a bath; None for any other. Raises as the craft does, or BadRequestError."""
        match asked:
            case commands.BathNew():
                return self._new(asked)
            case commands.BathPanel():
                return self._by_hand(asked)
            case commands.BathTakeBack(bath_id=bath_id):
                return self._take_back(self._in_use_one(bath_id))
            case commands.BathWaste():
                return self._to_waste(asked)
            case commands.WasteEmptied(kind=kind, who=who):
                return self._empty(kind, who)
        return None

    def _new(self, asked: commands.BathNew) -> dict[str, Any]:
        if len(self._in_use()) >= MOST_IN_USE:
            raise RefusedError(say("too_many_baths", most=MOST_IN_USE), say("waste_a_bath_first"))
        mixed = contents.checked(Contents(**asked.model_dump(exclude={"who"})))
        self._last_id += 1
        record = BathRecord(self._last_id, mixed, self._loop.clock.utc(), asked.who)
        self._baths[record.bath_id] = Kept(record)
        self._keep(record)
        return self._whole(self._baths[record.bath_id])

    def _by_hand(self, asked: commands.BathPanel) -> dict[str, Any]:
        bath = self._in_use_one(asked.bath_id)
        if asked.metal:
            hazards.refuse_metal(asked.metal, bath.contents.kind)
        elif bath.contents.kind in ETCHANTS:
            raise BadRequestError("bad_value", say("field_missing", field="metal"), field="metal")
        taken = Taken(
            asked.metal, asked.open_cm2, asked.depth_um, asked.took_s, bath_c=asked.bath_c, age_h=self._age_h(bath)
        )
        panel = self._put_in(bath, taken, label=asked.label, who=asked.who)
        self._over(bath, replace(panel, ended_utc=self._loop.clock.utc()))
        return self._whole(bath)

    def _take_back(self, bath: Kept) -> dict[str, Any]:
        if not bath.panels:
            bath_id = bath.record.bath_id
            raise BadRequestError("refused", say("bath_took_nothing", bath_id=bath_id), field="bath_id")
        self._drop(bath, bath.panels[-1])
        return self._whole(bath)

    def _to_waste(self, asked: commands.BathWaste) -> dict[str, Any]:
        bath = self._in_use_one(asked.bath_id)
        hazards.refuse_waste(bath.contents.kind, asked.into)
        now = self._loop.clock.utc()
        bath.record = replace(bath.record, waste_utc=now, waste_into=asked.into, waste_by=asked.who)
        self._keep(bath.record)
        before = self._waste.get(asked.into, WasteRecord(asked.into))
        litres = before.litres + bath.contents.volume_l
        self._waste[asked.into] = replace(before, litres=litres, baths=before.baths + 1)
        wasted = [one.record for one in self._baths.values() if one.record.waste_utc is not None]
        for old in wasted[:-WASTED_KEPT]:
            del self._baths[old.bath_id]
        return self._whole(bath)

    def _empty(self, kind: str, who: str) -> dict[str, Any]:
        one_of("kind", kind, hazards.KINDS)
        now = self._loop.clock.utc()
        self._waste[kind] = WasteRecord(kind, emptied_utc=now)
        self._loop.writer.add(f"{kind} waste is emptied", lambda book: book.baths.put_emptied(kind, now, who))
        return {"containers": self._containers()}

    def _containers(self) -> list[dict[str, Any]]:
        return [bathpictures.container(self._waste[kind]) for kind in hazards.KINDS if kind in self._waste]

    # -- the cards -----------------------------------------------------------------------------------------------

    def within(self, step: Step, numbers: PanelNumbers, bath_c: float | None = None) -> Within | None:
        """The bath that a step of a panel goes into: the only one of its kind, or the one chosen for the job.

        None for a step without a bath, and where none is in use.
        """
        fitting = self._fitting(step, numbers)
        allowed, why = [], None
        for bath in fitting:
            try:
                hazards.refuse_metal(numbers.metal, bath.contents.kind)
                allowed.append(bath)
            except ValueError as error:
                why = error.args[0]
        chosen = [bath for bath in allowed if bath.record.bath_id in numbers.baths]
        if len(chosen or allowed) != 1:
            return Within(refused=why) if fitting and not allowed else Within(several=True) if allowed else None
        (bath,) = chosen or allowed
        rate = instructions.rate_um_min(numbers, bath.contents.kind) if step.kind == "etch" else None
        forecast = self._forecast(bath, replace(self._taken(bath, numbers), bath_c=bath_c), rate)
        if step.kind == "develop" and numbers.clear_s is not None and (forecast is None or not forecast.timed):
            forecast = None  # a strip's own time says more than practice
        return Within(bath.record.bath_id, bath.contents.kind, forecast)

    def choices(self, steps: tuple[Step, ...], numbers: PanelNumbers) -> list[dict[str, Any]]:
        """The baths that a person may choose from for a job: where several could take a step."""
        found: dict[int, dict[str, Any]] = {}
        for step in steps:
            fitting = self._fitting(step, numbers)
            for bath in fitting if len(fitting) > 1 else ():
                number = bath.record.bath_id
                name_ = name(number, bath.contents.kind)
                found[number] = {"bath_id": number, "name": name_, "chosen": number in numbers.baths}
        return list(found.values())

    def choose(self, numbers: PanelNumbers, bath_id: int) -> PanelNumbers:
        """The numbers of a job with a bath chosen, in place of others for the same step.

        Raises hazards' RefusedError for a metal that must not go in, BadRequestError for a bath that is not in use.
        """
        bath = self._in_use_one(bath_id)
        kind = bath.contents.kind
        hazards.refuse_metal(numbers.metal, kind)
        station = stations.of(kind)
        others = [b for b in numbers.baths if b in self._baths and stations.of(self._baths[b].contents.kind) != station]
        etchant = kind if station == "etch" else numbers.etchant
        rate = numbers.rate_um_min if etchant == numbers.etchant else None
        return replace(numbers, baths=(*others, bath_id), etchant=etchant if rate else None, rate_um_min=rate)

    def begin(self, panel_id: int, label: str, step: Step, numbers: PanelNumbers, bath_c: float | None) -> None:
        """A panel goes in; without a bath for it, nothing is noted."""
        self.drop(panel_id, step.step_id)
        within = self.within(step, numbers, bath_c)
        if within is None or within.bath_id is None:
            return
        bath = self._baths[within.bath_id]
        # the time between looks is what every call of the timer leaves unknown
        every_s = within.forecast.look_every_s if within.forecast and step.kind == "etch" else 0.0
        taken = replace(self._taken(bath, numbers), bath_c=bath_c, every_s=every_s)
        expected_s = None if within.forecast is None else within.forecast.mid_s
        self._put_in(bath, taken, panel_id, step.step_id, label, expected_s)

    def cleared(self, panel_id: int, step_id: int) -> bool:
        """Whether somebody saw it clear already."""
        return any(panel.taken.took_s is not None for _bath, panel in self._find(panel_id, step_id))

    def clear(self, panel_id: int, step_id: int, after_s: float | None) -> None:
        """The panel that is in the developer is clear, so long after it went in."""
        for bath, panel in self._find(panel_id, step_id):
            self._replace(bath, replace(panel, taken=replace(panel.taken, took_s=after_s)))

    def finish(
        self, panel_id: int, label: str, step: Step, numbers: PanelNumbers, after_s: float | None, who: str
    ) -> None:
        """A panel comes out, `after_s` it went in; None where that is not sure. It loads the bath in any case."""
        if not self._find(panel_id, step.step_id):
            self.begin(panel_id, label, step, numbers, None)
            after_s = None
        for bath, panel in self._find(panel_id, step.step_id):
            if panel.ended_utc is not None:
                continue
            took_s = panel.taken.took_s if step.kind == "develop" else after_s
            taken = replace(panel.taken, took_s=took_s if took_s is None or took_s >= stations.SHORTEST_S else None)
            if taken.took_s is not None and taken.took_s < 2 * taken.every_s:  # nobody was called yet
                taken = replace(taken, every_s=0.0)
            self._over(bath, replace(panel, taken=taken, ended_utc=self._loop.clock.utc(), noted_by=who))

    def leave(self, panel_id: int, step_id: int | None = None) -> None:
        """A panel is out of its bath, at that step or any; since when is not known, and it loads the bath."""
        for bath, panel in self._find(panel_id, step_id):
            if panel.ended_utc is None:
                self._over(bath, replace(panel, ended_utc=self._loop.clock.utc()))

    def drop(self, panel_id: int, step_id: int) -> None:
        """Take back that a panel was in a bath at a step."""
        for bath, panel in self._find(panel_id, step_id):
            self._drop(bath, panel)

    # -- what is kept --------------------------------------------------------------------------------------------

    def _taken(self, bath: Kept, numbers: PanelNumbers) -> Taken:
        return replace(stations.taken(bath.contents.kind, numbers), age_h=self._age_h(bath))

    def _age_h(self, bath: Kept) -> float:
        return max(0.0, (self._loop.clock.utc() - bath.record.mixed_utc).total_seconds() / 3600)

    def _forecast(self, bath: Kept, like: Taken, rate_um_min: float | None = None) -> Forecast | None:
        return tempo.expected(bath.known(rate_um_min), bath.contents, replace(like, age_h=self._age_h(bath)))

    def _put_in(
        self,
        bath: Kept,
        taken: Taken,
        panel_id: int | None = None,
        step_id: int | None = None,
        label: str = "",
        expected_s: float | None = None,
        who: str = "",
    ) -> BathPanel:
        self._last_panel_id += 1
        now, number = self._loop.clock.utc(), self._last_panel_id
        share = bath.used().share
        panel = BathPanel(
            *(number, bath.record.bath_id, taken, now, None, panel_id, step_id, label, expected_s, share, who)
        )
        bath.panels.append(panel)
        self._keep_panel(panel)
        return panel

    def _over(self, bath: Kept, panel: BathPanel) -> None:
        """The bath learns from a panel that is out."""
        before = bath.known()
        self._replace(bath, panel)
        bath.tempo = tempo.learned(before, bath.contents, panel.taken)

    def _replace(self, bath: Kept, panel: BathPanel) -> None:
        at = next(k for k, one in enumerate(bath.panels) if one.bath_panel_id == panel.bath_panel_id)
        if bath.panels[at].ended_utc is not None:
            bath.tempo = None
        bath.panels[at] = panel
        self._keep_panel(panel)

    def _drop(self, bath: Kept, panel: BathPanel) -> None:
        bath.panels.remove(panel)
        bath.tempo = None  # worked out anew when somebody asks
        number = panel.bath_panel_id
        self._loop.writer.add(f"taking panel {number} of a bath back", lambda book: book.baths.drop_bath_panel(number))

    def _find(self, panel_id: int, step_id: int | None) -> list[tuple[Kept, BathPanel]]:
        return [
            (bath, panel)
            for bath in self._baths.values()
            for panel in bath.panels
            if panel.panel_id == panel_id and step_id in (None, panel.step_id)
        ]

    def _fitting(self, step: Step, numbers: PanelNumbers) -> list[Kept]:
        """Those that could take a step, whatever the metal."""
        return [bath for bath in self._in_use() if stations.fits(step.kind, bath.contents.kind, numbers.etchant)]

    def _in_use(self) -> list[Kept]:
        return [bath for bath in self._baths.values() if bath.record.waste_utc is None]

    def _bath(self, bath_id: int) -> Kept:
        if bath_id not in self._baths:
            raise BadRequestError("not_found", say("no_such_bath", bath_id=bath_id), field="bath_id")
        return self._baths[bath_id]

    def _in_use_one(self, bath_id: int) -> Kept:
        bath = self._bath(bath_id)
        if bath.record.waste_utc is not None:
            raise BadRequestError("refused", say("bath_is_waste", bath_id=bath_id), field="bath_id")
        return bath

    def _short(self, bath: Kept) -> dict[str, Any]:
        like = bath.like_last()
        return bathpictures.bath(bath.record, bath.used(), self._forecast(bath, like), like)

    def _whole(self, bath: Kept) -> dict[str, Any]:
        return self._short(bath) | bathpictures.panels(bath.contents, bath.over(), bath.panels)

    def _keep(self, bath: BathRecord) -> None:
        self._loop.writer.add(f"bath {bath.bath_id}: {bath}", lambda book: book.baths.put_bath(bath))

    def _keep_panel(self, panel: BathPanel) -> None:
        self._loop.writer.add(f"a panel in a bath: {panel}", lambda book: book.baths.put_bath_panel(panel))
