"""Two engines behind one call. Each runs on one thread; a race ends when the first has proven its answer."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait

import highspy
from ortools.sat.python import cp_model

from shipping.packing.planner.model import INFINITE, Found, Model

Start = list[int] | None
GRACE = 1.0  # seconds past its limit before an engine is left to itself


class Stop:
    """Raised for all engines at once; they look at it while they search."""

    def __init__(self, outer: Stop | None = None) -> None:
        self._event, self._outer = threading.Event(), outer

    def set(self) -> None:
        self._event.set()

    @property
    def is_set(self) -> bool:
        return self._event.is_set() or (self._outer is not None and self._outer.is_set)


class Quiet(highspy.Highs):
    """Says nothing: without this, listening alone prints a banner into whatever the caller prints."""

    def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
        self.silent()
        super().enableCallbacks()


def highs(
    model: Model, seconds: float, *, start: Start = None, stop: Stop | None = None, seed: int = 0, reduce: bool = True
) -> Found:
    """HiGHS, mixed-integer programming; the same answer for the same model and start unless time ran out.

    Without `reduce` it takes the model as it is: slower at most models, quicker at some that are small already.
    """
    solver = Quiet()
    options = {"time_limit": max(0.05, seconds), "threads": 1, "random_seed": seed, "mip_rel_gap": 0.0,
               "presolve": "choose" if reduce else "off"}  # fmt: skip
    for name, value in {**options, "mip_abs_gap": 0.999 if _whole(model) else 1e-6}.items():
        solver.setOptionValue(name, value)
    solver.passModel(lp_of(model))
    if start is not None:
        given = highspy.HighsSolution()
        given.col_value = [float(one) for one in start]
        solver.setSolution(given)
    ending = Stop(stop)
    if stop is not None:
        _listen(solver, ending)
    if _ends(solver.run, seconds + GRACE):
        return _read_highs(solver, model)
    ending.set()
    return Found(None, -INFINITE, "HiGHS")


def _ends(run: Callable[[], object], seconds: float) -> bool:
    """Does it end in time? HiGHS looks at its limit only now and then, and has run on for minutes; then it is left."""
    runner = threading.Thread(target=run, daemon=True)
    runner.start()
    runner.join(seconds)
    return not runner.is_alive()


def _whole(model: Model) -> bool:
    return all(isinstance(one, int) for one in model.goal.values())


def _listen(solver: highspy.Highs, stop: Stop) -> None:
    def asked(event: highspy.HighsCallbackEvent) -> None:
        if stop.is_set:
            event.data_in.user_interrupt = True

    solver.cbMipInterrupt += asked


def lp_of(model: Model) -> highspy.HighsLp:
    """The model as the library takes it, every variable whole."""
    import numpy as np

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(model.lower), len(model.rows)
    lp.col_cost_ = np.array([float(model.goal.get(var, 0)) for var in range(lp.num_col_)])
    lp.col_lower_, lp.col_upper_ = np.array(model.lower, float), np.array(model.upper, float)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * lp.num_col_
    lp.row_lower_ = np.array([-math.inf if row.low <= -INFINITE else float(row.low) for row in model.rows])
    lp.row_upper_ = np.array([math.inf if row.high >= INFINITE else float(row.high) for row in model.rows])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0] + [len(row.terms) for row in model.rows])
    lp.a_matrix_.index_ = np.array([var for row in model.rows for var in row.terms], int)
    lp.a_matrix_.value_ = np.array([float(one) for row in model.rows for one in row.terms.values()])
    return lp


def _read_highs(solver: highspy.Highs, model: Model) -> Found:
    status, info = solver.getModelStatus(), solver.getInfo()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Found(None, INFINITE, "HiGHS", impossible=True)
    values = [round(one) for one in solver.getSolution().col_value]
    bound = info.mip_dual_bound
    low = -INFINITE if not math.isfinite(bound) else math.ceil(bound - 1e-6)
    if not values or not model.holds(values):
        return Found(None, low, "HiGHS")
    value = model.value(model.goal, values)
    proven = status == highspy.HighsModelStatus.kOptimal
    if abs(info.objective_function_value - value) > 1e-6 * max(1, abs(value)):
        return Found(values, -INFINITE, "HiGHS")  # it speaks of another plan than the one it gives: no proof
    return Found(values, value if proven else min(low, value), "HiGHS")


def cp_sat(
    model: Model, seconds: float, *, start: Start = None, stop: Stop | None = None, seed: int = 0,
    work: float = math.inf,
) -> Found:  # fmt: skip
    """CP-SAT on one worker.

    After so much `work`, in the engine's own count of what it did, it gives the best it has: an end that is the same
    each time, as a clock's is not.
    """
    built = cp_model.CpModel()
    variables = [built.new_int_var(low, high, "") for low, high in zip(model.lower, model.upper, strict=True)]
    for row in model.rows:
        total = cp_model.LinearExpr.weighted_sum([variables[var] for var in row.terms], list(row.terms.values()))
        built.add_linear_constraint(total, max(row.low, -INFINITE), min(row.high, INFINITE))
    for var, value in enumerate(start or ()):
        built.add_hint(variables[var], value)
    built.minimize(cp_model.LinearExpr.weighted_sum([variables[v] for v in model.goal], list(model.goal.values())))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds, solver.parameters.max_deterministic_time = max(0.05, seconds), work
    solver.parameters.num_workers, solver.parameters.random_seed = 1, seed
    done = threading.Event()
    watch = threading.Thread(target=_stop_when_asked, args=(solver, stop, done), daemon=True)
    watch.start()
    status = solver.solve(built)
    done.set()
    return _read_cp(solver, status, model, variables)


def _stop_when_asked(solver: cp_model.CpSolver, stop: Stop | None, done: threading.Event) -> None:
    while not done.wait(0.02):
        if stop is not None and stop.is_set:
            solver.stop_search()


def _read_cp(solver: cp_model.CpSolver, status: int, model: Model, variables: list[cp_model.IntVar]) -> Found:
    if status == cp_model.INFEASIBLE:
        return Found(None, INFINITE, "CP-SAT", impossible=True)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Found(None, -INFINITE, "CP-SAT")
    values = [solver.value(one) for one in variables]
    return Found(values, math.ceil(solver.best_objective_bound - 1e-6), "CP-SAT")


ENGINES: dict[str, Callable[..., Found]] = {"HiGHS": highs, "CP-SAT": cp_sat}


def race(model: Model, seconds: float, *, start: Start = None, stop: Stop | None = None, seed: int = 0) -> Found:
    """Both at once, one thread each: the first proof ends it, else the best value and the best bound of either."""
    inner = Stop(stop)
    with ThreadPoolExecutor(max_workers=len(ENGINES)) as pool:
        pending: set[Future[Found]] = {
            pool.submit(engine, model, seconds, start=start, stop=inner, seed=seed) for engine in ENGINES.values()
        }
        found: list[Found] = []
        while pending:
            done, pending = wait(pending, return_when=FIRST_COMPLETED)
            found += [one.result() for one in done]
            if any(_settled(one, model) for one in found):
                inner.set()
    return _best(found, model, start)


def _settled(found: Found, model: Model) -> bool:
    return found.impossible or (found.values is not None and model.value(model.goal, found.values) <= found.bound)


def _best(found: list[Found], model: Model, start: Start) -> Found:
    """The incumbent we came with counts too: an engine that found nothing in time loses nothing."""
    if any(one.impossible for one in found) and all(one.values is None for one in found):
        return next(one for one in found if one.impossible)
    known = [one for one in found if one.values is not None]
    if start is not None and model.holds(start):
        known.append(Found(start, -INFINITE, "first fit"))
    bound = max(one.bound for one in found)
    if not known:
        return Found(None, bound, found[0].engine)
    # A settled answer is preferred among equals, so that its engine gets the name.
    best = min(known, key=lambda one: (model.value(model.goal, one.values or []), -one.bound))
    return Found(best.values, min(bound, model.value(model.goal, best.values or [])), best.engine)
