"""Monthly contamination rates of a large laboratory file: this program against DuckDB and Polars, in one call.

    python benches/laboratory.py WARDWRIGHT SETS [--runs N] [--threads N] [--folder DIR]

Needs the packages of benches/requirements.txt. Writes the file with `wardwright bench-data` unless it is there, runs the
programs by turns, compares the answers by month, and prints for each the shortest wall time, processor time and largest
resident memory, with the load of the machine beside it. Below stand two floors: the time to read the file and the
rate at which memory is copied. Ends with exit code 1 when the answers differ.
"""
import argparse
import json
import os
import pathlib
import subprocess
import sys
import time

HERE = pathlib.Path(__file__).parent


def run(command):
    """Wall time, processor time and largest memory of one run, and what it printed."""
    start = time.perf_counter()
    child = subprocess.Popen([str(part) for part in command], stdout=subprocess.PIPE)
    out = child.stdout.read()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    wall = time.perf_counter() - start
    if child.returncode != 0:
        sys.exit(f"{command[0]}: exit code {child.returncode}")
    return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.decode()


def months(report):
    parts = json.loads(report)["months"]
    return "".join(f"{part['month']},{part['denominator']},{part['contaminated']}\n" for part in parts)


def read_floor(path):
    buffer = bytearray(4 << 20)
    start = time.perf_counter()
    with open(path, "rb", buffering=0) as file:
        while file.readinto(buffer):
            pass
    return time.perf_counter() - start


def copy_floor():
    """Gigabytes copied in a second, block by block of 256 MB."""
    block = bytearray(256 << 20)
    start = time.perf_counter()
    for _ in range(4):
        bytes(block)
    return 4 * len(block) / (time.perf_counter() - start) / 1e9


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("wardwright")
    ask.add_argument("sets", type=int)
    ask.add_argument("--runs", type=int, default=3)
    ask.add_argument("--threads", type=int, default=os.cpu_count())
    ask.add_argument("--folder", default="target/bench-laboratory")
    said = ask.parse_args()
    folder = pathlib.Path(said.folder)
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{said.sets}-sets.csv"
    if not file.exists():
        subprocess.run([said.wardwright, "bench-data", str(said.sets), "--into", file], check=True)
    as_of = ["--as-of", "2026-01-31"]
    programs = {
        "wardwright": [
            said.wardwright, "cultures", "rates", file, "--map", file.with_suffix(".toml"), "--json", *as_of,
            "--chart", folder / "chart.svg",
        ],
        "duckdb": [sys.executable, HERE / "peers/duckdb_rates.py", file, said.threads],
        "polars": [sys.executable, HERE / "peers/polars_rates.py", file, said.threads],
    }
    best, answers = {}, {}
    for turn in range(said.runs):
        for name, command in programs.items():
            load = os.getloadavg()[0]
            wall, processor, memory, out = run(command)
            answers[name] = months(out) if name == "wardwright" else out
            print(f"run {turn + 1} {name:<11} {wall:7.2f} s  {processor:7.2f} s processor  {memory:6.0f} MB  load {load:.1f}", flush=True)
            kept = best.get(name, (wall, processor, memory))
            best[name] = (min(kept[0], wall), min(kept[1], processor), max(kept[2], memory))
    print(f"\n{said.sets} sets, {file.stat().st_size / 1e6:.0f} MB, {os.cpu_count()} cores")
    ours = best["wardwright"]
    for name, (wall, processor, memory) in best.items():
        print(
            f"{name:<11} {wall:7.2f} s ({wall / ours[0]:.2f} of ours)  {processor:7.2f} s processor "
            f"({processor / ours[1]:.2f})  {memory:6.0f} MB ({memory / ours[2]:.2f})"
        )
    print(f"floor: the file is read in {read_floor(file):.2f} s; memory is copied at {copy_floor():.1f} GB/s")
    same = answers["wardwright"] == answers["duckdb"] == answers["polars"]
    print("answers by month: the same" if same else "answers by month: NOT the same")
    sys.exit(0 if same else 1)


main()
