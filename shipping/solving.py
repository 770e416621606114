"""Plans of a show: the first at once, better ones from a search in a process of its own, all kept with their record.

The record in the database is where the page and the search meet: the search writes its sign of life, its progress and
each better plan there; the page reads them, and asks it to stop there. A search whose sign of life is old has gone.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.conf import settings
from django.db import IntegrityError, connection, transaction
from django.db.models import F, Q

from shipping.models import PackPlan, PlanRun, Show
from shipping.packing.carrying import carry
from shipping.packing.kept import as_load, plan_data, plan_of
from shipping.packing.planner import firstfit
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner, at_once
from shipping.packing.wanted import Content, Job, Plan, moves
from shipping.planning.desk import Wanted, plan_items, wanted
from shipping.planning.foretold import breaches, judged
from shipping.planning.going import Question

BUDGET = 30  # seconds of one search
SLICES = (2, 8)  # what is found after these is shown while the rest goes on
STALE = timedelta(seconds=15)
LONG = timedelta(seconds=60)  # for the first sign of life: a busy machine starts a process slowly
MOST = 2  # searches at once: each takes two threads
BEAT = 0.5

Clock = Callable[[], datetime]


class SearchRefusal(ValueError):
    """Why no search was begun. Carries a sentence to show."""


def newest(show: Show, digest: str) -> PackPlan | None:
    """The last plan kept for exactly this input."""
    return PackPlan.objects.filter(show=show, input_digest=digest).order_by("-made_at", "-pk").first()


def is_lost(run: PlanRun, at: datetime) -> bool:
    """Has its worker gone without a word, killed or with its machine?"""
    patience = STALE if run.beat_at > run.started_at else LONG
    return run.ended_at is None and run.beat_at < at - patience


def last_run(show: Show, digest: str) -> PlanRun | None:
    return PlanRun.objects.filter(show=show, input_digest=digest).order_by("-started_at").first()


def first_plan(show: Show, load: Wanted) -> Plan:
    """A complete plan without a search: by hand rules, or the last plan of this show carried over if that is better."""
    found = at_once(load.job)
    last = PackPlan.objects.filter(show=show).order_by("-made_at", "-pk").first()
    earlier = last and carry(load.job, contents_of(load, last.items), last.plan["vans"])
    ways = sorted([found, *([earlier] if earlier else [])], key=lambda one: rank(load.job, one))
    passed = (told for told in (judged(load, one) for one in ways) if not told.breaches)
    return next(passed, None) or judged(load, found)


def rank(job: Job, plan: Plan) -> tuple[tuple[int, ...], bool, float]:
    """What a plan is measured by, smaller is better: its goals, then whether they are proven, then how far they are."""
    behind = Counter({one.gear: one.count for one in plan.left})
    gap = sum(one.gap for one in plan.levels) if plan.levels else 1.0
    return firstfit.goal(job, dict(behind), plan.contents), not plan.proven, gap


def contents_of(load: Wanted, items: dict[str, int]) -> dict[str, Content]:
    """An earlier plan, thing by thing, in the kinds and cases of this load."""
    names = {pk: name for name, pk in load.cases.items()}
    found: dict[str, Counter[str]] = {}
    for ident, units in load.units.items():
        each = load.job.kinds[ident].count // len(units)
        for unit in units:
            where = {items.get(str(item)) for item in unit.items}
            name = names.get(where.pop() or 0) if len(where) == 1 else None
            if name is not None:
                found.setdefault(name, Counter())[ident] += each
    return {case: tuple(sorted(lines.items())) for case, lines in sorted(found.items())}


def keep(
    show: Show, question: Question, load: Wanted, plan: Plan, *, by: str, at: datetime, run: PlanRun | None = None
) -> PackPlan:
    """Add a plan to the record. One that failed the check, or was not checked, is refused here and by the database."""
    return PackPlan.objects.create(
        show=show, run=run.pk if run else None, question=question.as_data(), load=as_load(load.job),
        input_digest=load.digest, plan=plan_data(plan), items={str(i): c for i, c in plan_items(load, plan).items()},
        left=sum(one.count for one in plan.left), cases=len(plan.contents), moves=moves(load.job, plan.contents),
        proven=plan.proven, engine=plan.engine, seed=plan.seed, seconds=plan.seconds,
        check_passed=plan.breaches == (), made_at=at, made_by=by,
    )  # fmt: skip


def start(
    show: Show, question: Question, *, by: str, at: datetime, seconds: int = BUDGET, seed: int = 0
) -> PlanRun:  # fmt: skip
    """Begin a search, or give back the one that runs already for the same input. The first plan is kept at once."""
    load = wanted(show, question, at)
    if not load.job.gear:
        raise SearchRefusal(f"Nothing is booked on {show} that could be packed. Book a system first.")
    asked = PlanRun(
        show=show, question=question.as_data(), input_digest=load.digest, seconds=seconds, seed=seed,
        started_at=at, started_by=by, beat_at=at,
    )  # fmt: skip

    def first(run: PlanRun) -> None:
        plan = first_plan(show, load)
        if newest(show, load.digest) is None and plan.breaches == ():
            keep(show, question, load, plan, by=by, at=at, run=run)

    return begun(asked, first)


def begun(asked: PlanRun, first: Callable[[PlanRun], None]) -> PlanRun:
    """Write the run and its first plan and start its worker; or give back the run that goes for the same already."""
    _end_lost(asked.started_at)
    running = PlanRun.objects.filter(ended_at=None)
    mine = running.filter(show=asked.show, input_digest=asked.input_digest)
    if (found := mine.first()) is not None:
        return found
    if running.count() >= MOST:
        raise SearchRefusal(f"{MOST} searches are running already. Wait for one to end, or stop it on its page.")
    try:
        with transaction.atomic():
            asked.save(force_insert=True)
            first(asked)
            transaction.on_commit(lambda: spawn(asked))
    except IntegrityError:  # somebody pressed at the same moment: the database let one of the two in
        return mine.get()
    return asked


def _end_lost(at: datetime) -> None:
    """Searches that went away have ended: say so, so that new ones may begin."""
    never = Q(beat_at=F("started_at"))
    silent = (never & Q(beat_at__lt=at - LONG)) | (~never & Q(beat_at__lt=at - STALE))
    gone = PlanRun.objects.filter(silent, ended_at=None)
    gone.update(ended_at=at, ending=PlanRun.Ending.LOST, words="Its worker went away before it had finished.")


def spawn(run: PlanRun) -> None:
    """Start the worker of a search. It outlives the page, and the process that served it."""
    if not settings.SOLVER_PROCESSES:
        return
    words = [sys.executable, str(settings.BASE_DIR / "manage.py"), "solve_plan", str(run.pk)]
    process = subprocess.Popen(  # noqa: S603 - our own command with an id of our own making
        words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
    threading.Thread(target=process.wait, daemon=True).start()  # else it would stay as a zombie


def ask_to_stop(run: PlanRun, *, by: str) -> None:
    """The search looks for this twice a second; what it has found by then stays."""
    PlanRun.objects.filter(pk=run.pk, ended_at=None).update(stop_asked_by=by)


@dataclass
class Search:
    """One search, in its own process. `clock` tells the time; `watched` has a thread look at the record meanwhile."""

    run: PlanRun
    clock: Clock
    watched: bool = True
    stop: Stop = field(default_factory=Stop)
    said: tuple[str, int, int] | None = None

    def solve(self) -> None:
        """Search to the end of its time, a proof, or a wish to stop; keep each better plan; say how it ended."""
        done = threading.Event()
        watch = threading.Thread(target=self._watch, args=(done,), daemon=True)
        if self.watched:
            watch.start()
        try:
            ending, words = self._passes()
        except Exception as wrong:
            self._end(PlanRun.Ending.FAILED, f"It failed: {type(wrong).__name__}. What was found before stays.")
            raise
        finally:
            done.set()
            if self.watched:
                watch.join()
        self._end(ending, words)

    def _passes(self) -> tuple[str, str]:
        show, question = self.run.show, Question.from_data(self.run.question)
        load = wanted(show, question, self.clock())
        if load.digest != self.run.input_digest:
            return PlanRun.Ending.FAILED, "The book changed while this was asked. Search again."
        kept = newest(show, load.digest)
        best = plan_of(kept.plan) if kept else None
        for seconds in slices(self.run.seconds):
            if self.stop.is_set or (best is not None and best.proven):
                break
            found = Planner(
                load.job, self.until(seconds), self.stop, self.heard, self.run.seed,
                check=lambda _, plan: breaches(load, plan),
            ).run(best)  # fmt: skip
            if found.breaches == () and (best is None or rank(load.job, found) < rank(load.job, best)):
                best = found
                keep(show, question, load, found, by=self.run.started_by, at=self.clock(), run=self.run)
        return self.ended()

    def ended(self) -> tuple[str, str]:
        return (PlanRun.Ending.STOPPED, "") if self.stop.is_set else (PlanRun.Ending.FINISHED, "")

    def until(self, seconds: float) -> Callable[[], float]:
        """How many of these seconds are left, by the clock given."""
        end = self.clock() + timedelta(seconds=seconds)
        return lambda: max(0.0, (end - self.clock()).total_seconds())

    def heard(self, name: str, value: int, bound: int) -> None:
        self.said = (name, value, bound)
        if not self.watched:
            self.look()

    def _watch(self, done: threading.Event) -> None:
        try:
            while not done.wait(BEAT):
                self.look()
        finally:
            connection.close()

    def look(self) -> None:
        """Leave a sign of life and the progress, and see whether somebody asked to stop."""
        fields: dict[str, object] = {"beat_at": self.clock()}
        if self.said is not None:
            fields |= dict(zip(("goal", "value", "bound"), self.said, strict=True))
        mine = PlanRun.objects.filter(pk=self.run.pk)
        mine.update(**fields)
        if mine.exclude(stop_asked_by="").exists() or not mine.filter(ended_at=None).exists():
            self.stop.set()

    def _end(self, ending: str, words: str) -> None:
        at = self.clock()
        mine = PlanRun.objects.filter(pk=self.run.pk, ended_at=None)
        mine.update(ended_at=at, beat_at=at, ending=ending, words=words)


def slices(seconds: int) -> Iterator[int]:
    """Short looks first, so that something better shows soon; the rest of the time in one."""
    gone = 0
    for one in SLICES:
        if gone + one < seconds:
            gone += one
            yield one
    yield max(1, seconds - gone)
