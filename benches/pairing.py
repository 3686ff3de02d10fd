"""Plans of who learns with whom: this program against OR-Tools CP-SAT on the same problems, in one call.

    cargo build --release -p wardwright-timetable --example pairing_plans
    python benches/pairing.py target/release/examples/pairing_plans small|whole|again|hospital [--seconds N]

Needs ortools of tests/reference/requirements.txt. For each problem: our plan is held against every limit and its objective is
worked out anew from its pairings; the solver gets the same problem (tests/reference/pairing_cpsat.py), two threads, and at
most N seconds. A solver that has not proved its optimum by then gives a bound, and the plan is held against that. Prints
both times, and ends with exit code 1 when a plan breaks a limit, when one finds a plan where the other proves that there is none, or when a
plan is more than 1 % below what the solver found or has a bound below it.
"""
import argparse
import json
import os
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "tests" / "reference"))
from pairing_cpsat import solve  # noqa: E402


def worked_out(problem, pairings):
    """The objective of a plan, from the words of the problem; stops at the first limit it breaks."""
    shifts, learners, preceptors = problem["shifts"], problem["learners"], problem["preceptors"]

    def must(holds, what):
        if not holds:
            sys.exit(f"the plan breaks a limit: {what}")

    def count(wanted):
        return sum(1 for pairing in pairings if wanted(*pairing))

    must(len({(l, s) for l, s, _, _ in pairings}) == len(pairings), "a learner twice on a shift")
    must(len({(p, s) for _, s, p, _ in pairings}) == len(pairings), "a preceptor with two learners")
    weeks = {shift["week"] for shift in shifts}
    for place, shift in enumerate(shifts):
        must(sum(t for _, s, _, t in pairings if s == place) <= shift["turns"], f"turns of shift {place}")
    for place, one in enumerate(preceptors):
        must(all(s in one["shifts"] for _, s, p, _ in pairings if p == place), f"shifts of preceptor {place}")
        must(count(lambda l, s, p, t: p == place) <= one["all"], f"preceptor {place} in all")
        for week in weeks:
            must(count(lambda l, s, p, t: p == place and shifts[s]["week"] == week) <= one["week"], f"preceptor {place}")
    objective = 0.0
    for place, one in enumerate(learners):
        own = [(s, t) for l, s, _, t in pairings if l == place]
        must(all(s in one["shifts"] and t >= 1 for s, t in own), f"shifts of learner {place}")
        must(len(own) >= one["least"], f"fewest shifts of learner {place}")
        for week in weeks:
            must(sum(1 for s, _ in own if shifts[s]["week"] == week) <= one["week"], f"week of learner {place}")
        units = sum(t * shifts[s]["units"] for s, t in own)
        objective += one["done"][min(units, len(one["done"]) - 1)]
    known = {tuple(pair) for pair in problem["known"]}
    planned = {(l, s) for l, s, _, _ in pairings}
    return objective - problem["cost"] * len(known ^ planned)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("plans")
    ask.add_argument("kind", choices=["small", "whole", "again", "hospital"])
    ask.add_argument("--seconds", type=float, default=60.0)
    args = ask.parse_args()
    lines = subprocess.run([args.plans, args.kind], stdout=subprocess.PIPE, text=True, check=True).stdout.splitlines()
    ours, theirs, faults, n_equal, n_infeasible = 0.0, 0.0, [], 0, 0
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    print("  unit   ours      bound     time      CP-SAT    bound     status     time")
    for place, line in enumerate(lines):
        plan = json.loads(line)
        problem = plan["problem"]
        answer = solve(problem, args.seconds)
        ours, theirs = ours + plan["seconds"], theirs + answer["seconds"]
        if plan["status"] == "infeasible":
            n_infeasible += 1
            if answer["status"] != "infeasible":
                faults.append(f"{place}: no plan found, and the solver says {answer['status']}")
            print(f"  {place:4}   no plan                 {plan['seconds']:.3f} s   {answer['status']:30} {answer['seconds']:.3f} s")
            continue
        objective = worked_out(problem, plan["pairings"])
        if abs(objective - plan["objective"]) > 1e-9:
            faults.append(f"{place}: {plan['objective']} said, {objective} worked out")
        if answer["status"] == "infeasible":
            faults.append(f"{place}: a plan found where the solver proves that there is none")
            continue
        # Chances reach the solver in millionths.
        rounding = 1e-6 * len(problem["learners"])
        found, bound = answer.get("objective", float("-inf")), answer.get("bound", float("inf"))
        if objective < found - 0.01 * abs(found) - rounding:
            faults.append(f"{place}: {objective}, more than 1 % below {found}")
        if objective > bound + rounding:
            faults.append(f"{place}: {objective}, above the solver's bound {bound}")
        if plan["bound"] < found - rounding:
            faults.append(f"{place}: the bound {plan['bound']} is below a plan of {found}")
        n_equal += answer["status"] == "optimal" and objective >= found - rounding
        print(
            f"  {place:4}   {objective:8.4f}  {plan['bound']:8.4f}  {plan['seconds']:7.3f} s "
            f"{found:8.4f}  {bound:8.4f}  {answer['status']:9} {answer['seconds']:7.2f} s"
        )
    print(f"{len(lines)} problems, {n_infeasible} without a plan, {n_equal} equal to a proven optimum; ours {ours:.2f} s, CP-SAT {theirs:.2f} s")
    for fault in faults:
        print(fault, file=sys.stderr)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
