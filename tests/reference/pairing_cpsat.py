"""Pairing problems solved by a general solver of whole-number programs (OR-Tools CP-SAT), one JSON object a line.

Reads problems from standard input and writes one line for each: status, objective, bound, seconds. The formulas are
those in crates/timetable/src/pairing/mod.rs, written out once more from its words; chances are taken in millionths,
rounded to the nearest, so a learner's chance may differ by half a millionth.
"""

import json
import sys

from ortools.sat.python import cp_model

MILLION = 1_000_000


def solve(problem, seconds):
    model = cp_model.CpModel()
    shifts = problem["shifts"]
    turns, paired, gains = {}, {}, []
    for place, learner in enumerate(problem["learners"]):
        units = []
        for shift in learner["shifts"]:
            most = shifts[shift]["turns"]
            turns[place, shift] = model.new_int_var(0, most, "")
            paired[place, shift] = model.new_bool_var("")
            model.add(turns[place, shift] <= most * paired[place, shift])
            model.add(turns[place, shift] >= paired[place, shift])
            units.append(turns[place, shift] * shifts[shift]["units"])
        own = [paired[place, shift] for shift in learner["shifts"]]
        model.add(sum(own) >= learner["least"])
        for week in {shifts[shift]["week"] for shift in learner["shifts"]}:
            model.add(
                sum(paired[place, shift] for shift in learner["shifts"] if shifts[shift]["week"] == week)
                <= learner["week"]
            )
        done = [round(chance * MILLION) for chance in learner["done"]]
        total = model.new_int_var(0, len(done) - 1, "")
        model.add(total <= sum(units))
        gain = model.new_int_var(min(done), max(done), "")
        model.add_element(total, done, gain)
        gains.append(gain)
    watches = {}
    for place, preceptor in enumerate(problem["preceptors"]):
        for shift in preceptor["shifts"]:
            watches[place, shift] = model.new_bool_var("")
        model.add(sum(watches[place, shift] for shift in preceptor["shifts"]) <= preceptor["all"])
        for week in {shifts[shift]["week"] for shift in preceptor["shifts"]}:
            model.add(
                sum(watches[place, shift] for shift in preceptor["shifts"] if shifts[shift]["week"] == week)
                <= preceptor["week"]
            )
    for place, shift in enumerate(shifts):
        here = [learner for learner, other in turns if other == place]
        model.add(sum(turns[learner, place] for learner in here) <= shift["turns"])
        model.add(
            sum(paired[learner, place] for learner in here)
            <= sum(watches[preceptor, other] for preceptor, other in watches if other == place)
        )
    known = {(learner, shift) for learner, shift in problem["known"]}
    change = round(problem["cost"] * MILLION)
    changed = [(1 - paired[key]) if key in known else paired[key] for key in paired] if change else []
    model.maximize(sum(gains) - change * sum(changed))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    status = solver.solve(model)
    name = {cp_model.OPTIMAL: "optimal", cp_model.FEASIBLE: "feasible", cp_model.INFEASIBLE: "infeasible"}
    answer = {"status": name.get(status, "unknown"), "seconds": solver.wall_time}
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        answer["objective"] = solver.objective_value / MILLION
        answer["bound"] = solver.best_objective_bound / MILLION
    return answer


def main():
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    for line in sys.stdin:
        if line.strip():
            print(json.dumps(solve(json.loads(line), seconds)), flush=True)


if __name__ == "__main__":
    main()
