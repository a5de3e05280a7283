"""Holds a folder that `cargo bench --bench integer_program -- export FOLDER` wrote against HiGHS and CP-SAT.

    pip install highspy ortools
    python3 benches/solvers.py FOLDER [SECONDS]

One thread each, SECONDS (10) for each program. Reading a program is not counted. Prints a line for each
program, then for each shape the medians of the ratio of a solver's time to ours: above 1 we are faster. Only what we
ended counts; a solver that did not end within its time counts as if it had just then. Ends with an error where two
optima differ. Part of no gate.
"""

import csv
import statistics
import sys
import time
from pathlib import Path

import highspy
from ortools.sat.python import cp_model

FORMS = ("compact", "tight")


def read(path):
    """A HiGHS instance that has read a program."""
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    if solver.readModel(str(path)) != highspy.HighsStatus.kOk:
        raise SystemExit(f"{path} cannot be read")
    return solver


def by_highs(path, limit):
    solver = read(path)
    for option, value in (("threads", 1), ("time_limit", limit), ("mip_rel_gap", 0.0), ("mip_abs_gap", 0.5)):
        solver.setOptionValue(option, value)
    start = time.perf_counter()
    solver.run()
    took = time.perf_counter() - start
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kOptimal:
        return took, str(round(solver.getInfo().objective_function_value))
    return took, "none" if status == highspy.HighsModelStatus.kInfeasible else "stopped"


def by_cp_sat(path, limit):
    # everything is whole at an optimum, so it may be an integer here
    program = read(path).getLp()
    model = cp_model.CpModel()
    ends = zip(program.col_lower_, program.col_upper_)
    columns = [model.new_int_var(round(least), round(most), "") for least, most in ends]
    terms = [([], []) for _ in range(program.num_row_)]
    matrix = program.a_matrix_
    starts, indices, values = list(matrix.start_), list(matrix.index_), list(matrix.value_)
    for column in range(program.num_col_):
        for entry in range(starts[column], starts[column + 1]):
            variables, times = terms[indices[entry]]
            variables.append(columns[column])
            times.append(round(values[entry]))
    far = highspy.kHighsInf
    for (variables, times), least, most in zip(terms, program.row_lower_, program.row_upper_):
        total = cp_model.LinearExpr.weighted_sum(variables, times)
        if least == most:
            model.add(total == round(least))
        elif least > -far:
            model.add(total >= round(least))
        elif most < far:
            model.add(total <= round(most))
    costs = [round(cost) for cost in program.col_cost_]
    model.minimize(cp_model.LinearExpr.weighted_sum(columns, costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    # without cuts of its linear relaxation it proves little here
    solver.parameters.linearization_level = 2
    solver.parameters.max_time_in_seconds = limit
    start = time.perf_counter()
    status = solver.solve(model)
    took = time.perf_counter() - start
    if status == cp_model.OPTIMAL:
        return took, str(round(solver.objective_value + program.offset_))
    return took, "none" if status == cp_model.INFEASIBLE else "stopped"


SOLVERS = {"HiGHS": by_highs, "CP-SAT": by_cp_sat}


def quickest(solve, path, limit):
    """The quickest of three, unless it takes long: what disturbs a run only makes it longer."""
    took, end = solve(path, limit)
    for _ in range(2 if took < 0.2 else 0):
        took = min(took, solve(path, limit)[0])
    return took, end


def contradicts(ours, theirs):
    unknown = ("stopped", "was so before")
    return ours not in unknown and theirs not in unknown and ours != theirs


def tenth(values):
    return sorted(values)[len(values) // 10]


def main(folder, limit):
    shapes, wrong = {}, []
    with open(folder / "ours.csv", encoding="utf-8") as lines:
        instances = list(csv.DictReader(lines))
    for instance in instances:
        name, ours, end = instance["name"], float(instance["seconds"]), instance["end"]
        shape = shapes.setdefault(name.rsplit("-", 1)[0], {"times": [], "n": 0, "ratios": {}, "stopped": {}})
        shape["n"] += 1
        if end != "stopped":
            shape["times"].append(ours)
        said = []
        ends = []
        for solver, solve in SOLVERS.items():
            for form in FORMS:
                took, theirs = quickest(solve, folder / f"{name}-{form}.mps", limit)
                said.append(f"{solver} {form} {theirs} {took * 1000:.1f} ms")
                ends.append(theirs)
                if theirs == "stopped":
                    shape["stopped"][solver, form] = shape["stopped"].get((solver, form), 0) + 1
                if end != "stopped":
                    shape["ratios"].setdefault((solver, form), []).append(took / ours)
                if contradicts(end, theirs):
                    wrong.append(f"{name}: {end}, {solver} {form} {theirs}")
        if len({theirs for theirs in ends if theirs != "stopped"}) > 1:
            wrong.append(f"{name}: the solvers differ among themselves: {ends}")
        print(f"{name}: ours {end} {ours * 1000:.3f} ms; {'; '.join(said)}", flush=True)
    columns = [(solver, form) for solver in SOLVERS for form in FORMS]
    print("\n| shape | n | we ended | ours, median | " + " | ".join(f"{s} {f}" for s, f in columns) + " |")
    print("|---" * (4 + len(columns)) + "|")
    for name, shape in shapes.items():
        cells = []
        for column in columns:
            ratios = shape["ratios"].get(column, [])
            stopped = shape["stopped"].get(column, 0)
            text = f"{statistics.median(ratios):.2g} ({tenth(ratios):.2g}, {min(ratios):.2g})" if ratios else "-"
            cells.append(text + (f", {stopped} stopped" if stopped else ""))
        times = shape["times"]
        median = f"{statistics.median(times) * 1000:.2f} ms" if times else "-"
        print(f"| {name} | {shape['n']} | {len(times)} | {median} | " + " | ".join(cells) + " |")
    print("ratio of the solver's time to ours: median (10th percentile, worst)")
    if wrong:
        raise SystemExit("\n".join(["different optima:", *wrong]))


if __name__ == "__main__":
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 10.0)
