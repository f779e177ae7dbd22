"""How long a check takes, as the student waits for it: medians over every task, on this machine.

python tests/benchmarks/answers_speed.py
"""

import platform
import statistics
import time

from susgeo.answers import Lesson
from susgeo.answers.calculation import library


def seconds(function, times=15):
    """Return the median time of a call, the first one left out: it reads files and compiles formulas."""
    function()
    taken = []
    for _ in range(times):
        start = time.process_time()
        function()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def main():
    calculations, tasks = library()
    found: dict[str, list[float]] = {}
    for key, task in tasks.items():
        lesson = Lesson(task.lesson, "a student")
        if task.kind == "number":
            answers = {"number, wrong": "1.234"}
            answers["number, a known mistake"] = "0.5"
        elif task.kind == "formula":
            truth = calculations[task.of].expression(task.find, task.symbols)
            answers = {
                "formula, as in the book": str(truth),
                "formula, expanded": str(truth.expand()),
                "formula, wrong": f"2*({truth})",
            }
        elif task.kind == "working":
            lines = "\n".join(f"{step.name} = {step.formula}" for step in calculations[task.of].steps)
            answers = {"working": lines}
        else:
            middle = {name: (low + high) / 2 for name, (_, low, high) in task.move.items()}
            answers = {"choice, the car solved": middle}
        for kind, answer in answers.items():
            check = lambda key=key, answer=answer: lesson.check(key, answer, keep=False)  # noqa: B023, E731
            found.setdefault(kind, []).append(seconds(check))
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}, ms a check")
    print(f"{'answer':28}{'median':>9}{'slowest task':>15}")
    for kind, times in found.items():
        print(f"{kind:28}{1000 * statistics.median(times):9.1f}{1000 * max(times):15.1f}")


if __name__ == "__main__":
    main()
