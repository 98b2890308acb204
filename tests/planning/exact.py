"""The least cost of a small order, by an independent method: constraint programming with OR-Tools."""

from ortools.sat.python import cp_model

from sheetplan.model import Job
from sheetplan.model.turns import allowed_turns

Size = tuple[int, int]


def least_cost(job: Job, seconds: float = 60.0) -> int | None:
    """Least price of sheets that hold all pieces, whole millimetres; None where it was not proven in time.

    Sheets lie side by side along x, as many of each size as there are pieces; a piece lies on one of
    them, gap and margin kept by growing pieces and sheets by the gap.
    """
    cutting = job.rules[0]
    gap, margin = int(cutting.gap), int(cutting.margin)
    pieces = [part for order in job.orders for part in [job.parts[order.item]] * order.quantity]
    model = cp_model.CpModel()
    sheets = [(i, sheet) for sheet in job.stock for i in range(len(pieces))]
    lefts, left = [], 0
    for _, sheet in sheets:
        lefts.append(left)
        left += int(sheet.length)
    opened = [model.new_bool_var(f"open {k}") for k in range(len(sheets))]
    x_intervals, y_intervals = [], []
    for p, part in enumerate(pieces):
        (length, width) = (int(v) + gap for v in part.outline.outer.vertices[2][:2])
        quarters = {round(turn / 90) % 2 for turn in allowed_turns(part)}
        turned = model.new_bool_var(f"turned {p}")
        if len(quarters) == 1:
            model.add(turned == quarters.pop())
        x, y = model.new_int_var(0, left, f"x {p}"), model.new_int_var(0, 10_000, f"y {p}")
        along = model.new_int_var(min(length, width), max(length, width), f"along {p}")
        across = model.new_int_var(min(length, width), max(length, width), f"across {p}")
        model.add(along == length + turned * (width - length))
        model.add(across == width + turned * (length - width))
        right, top = model.new_int_var(0, left + gap, f"r {p}"), model.new_int_var(0, 10_000, f"t {p}")
        x_intervals.append(model.new_interval_var(x, along, right, f"X {p}"))
        y_intervals.append(model.new_interval_var(y, across, top, f"Y {p}"))
        here = [model.new_bool_var(f"{p} on {k}") for k in range(len(sheets))]
        model.add_exactly_one(here)
        for k, (_, sheet) in enumerate(sheets):
            model.add(x >= lefts[k] + margin).only_enforce_if(here[k])
            model.add(right <= lefts[k] + int(sheet.length) - margin + gap).only_enforce_if(here[k])
            model.add(y >= margin).only_enforce_if(here[k])
            model.add(top <= int(sheet.width) - margin + gap).only_enforce_if(here[k])
            model.add_implication(here[k], opened[k])
    model.add_no_overlap_2d(x_intervals, y_intervals)
    for k in range(1, len(sheets)):
        if sheets[k][0] > 0:
            model.add_implication(opened[k], opened[k - 1])
    _areas(model, job, pieces, sheets, opened)
    model.minimize(sum(int(sheet.price) * opened[k] for k, (_, sheet) in enumerate(sheets)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return round(solver.objective_value)


def _areas(model: cp_model.CpModel, job: Job, pieces: list, sheets: list, opened: list) -> None:
    """The opened sheets have room for the pieces' area: not needed, but it cuts the search short."""
    needed = sum(int(v[0]) * int(v[1]) for v in (part.outline.outer.vertices[2] for part in pieces))
    model.add(sum(int(s.length) * int(s.width) * opened[k] for k, (_, s) in enumerate(sheets)) >= needed)
