"""Measure the report page of many clients: bytes, and seconds of this process.

python tests/benchmarks/reportpage.py --clients 50
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from page.crowd import crowd_plan
from planopt.cookday.containers import containers_of
from planopt.cookday.schedule import schedule_cook_days
from planopt.report.files.clients import client_files
from planopt.report.page.html import labels_html, report_html


def main() -> None:
    """Print what each step takes, the import of the drawing library included in the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=50)
    plan, catalog, scenario = crowd_plan(parser.parse_args().clients)
    print(f"{len(scenario.clients)} clients, {len(plan.portions)} portions")
    begun = time.perf_counter(), time.process_time()

    def told(name: str, size: int = 0) -> None:
        nonlocal begun
        now = time.perf_counter(), time.process_time()
        wall, cpu = now[0] - begun[0], now[1] - begun[1]
        print(f"{name:12} {wall:6.2f} s  {cpu:6.2f} s of this process  {size:9} bytes")
        begun = time.perf_counter(), time.process_time()

    schedules = schedule_cook_days(plan, catalog, scenario)
    told("timetable")
    boxes = containers_of(plan, catalog, scenario)
    told("containers")
    told("report.html", len(report_html(plan, catalog, scenario, schedules, boxes).encode()))
    told("labels.html", len(labels_html(plan, catalog, scenario, boxes).encode()))
    told("clients", sum(map(len, client_files(plan, catalog, scenario, boxes).values())))


if __name__ == "__main__":
    main()
