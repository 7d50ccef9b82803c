"""Measures `duskmark analyse` against lessons made by an independent simulator (invented data).

    python3 benches/slab_bench.py PROGRAM [-n 100] [--from 0] [--families bench,deep] [--keep DIR]

Prints for every family of records how far the lamp's instants are from the truth, how often the
stated interval covers it, how many edges are missed or told in vain, and whether the values at the
marks are as uncertain as they say. Needs numpy.
"""

import argparse
import shutil
import tempfile
from pathlib import Path

from slab import bound, check, families, judge, simulate


def arguments():
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", help="the built duskmark")
    parser.add_argument("--check", action="store_true", help="check the simulator itself, and no more")
    parser.add_argument("-n", type=int, default=100, help="records a family")
    parser.add_argument("--from", type=int, default=0, dest="first", help="number of the first record")
    parser.add_argument("--families", default="", help="some of: " + " ".join(families.FAMILIES))
    parser.add_argument("--keep", type=Path, help="folder in which the tables of failures are kept")
    parser.add_argument("--options", default="--marks 1m", help="further options of analyse")
    parser.add_argument("--declare", action="store_true", help="tell analyse the true lags (off instant)")
    parser.add_argument("--bound", action="store_true", help="beside it what an efficient estimator would have (slow)")
    parser.add_argument("--details", action="store_true", help="one line for each failure")
    return parser.parse_args()


def measure(name, args, folder):
    """Makes, analyses and judges the records of one family."""
    slow = 10 if name.startswith("window") else 1
    plans = [families.FAMILIES[name](name, n) for n in range(args.first, args.first + max(4, args.n // slow))]
    records = simulate.make(plans, folder)
    options = [] if name in ("day", "window", "window-lamp", "hand", "hand-few", "hand-unlit") else args.options.split()
    answers, seconds = judge.analyse(args.program, records, options, args.declare)
    verdicts = [judge.judge(r, a) for r, a in zip(records, answers)]
    return verdicts, seconds / max(1, len(records))


def failure(verdict):
    """Why a record is a failure, in words; empty if it is none."""
    reasons = []
    if verdict.answer is None:
        return "no answer"
    for kind, found in (("on", verdict.on), ("off", verdict.off)):
        for error, covered, half in found:
            if error is None:
                reasons.append(f"{kind} missing")
            elif abs(error) > 10.0 or not covered:
                reasons.append(f"{kind} {error:+.1f} s, half-width {half:.1f}{'' if covered else ', NOT COVERED'}")
    for e in verdict.extra:
        reasons.append(f"extra {e['edge']} at {e['at_s']:.1f}, half-width {(e['high_s'] - e['low_s']) / 2:.0f}")
    return "; ".join(reasons)


def describe(plan):
    """The record in a line: lamp, logger and lags."""
    log = plan.logger
    lags = ",".join(f"{s.lag_s:.1f}" for s in plan.slabs)
    edges = " ".join(f"{k}@{t:.1f}" for k, t in plan.edges)
    return (f"{edges} | {plan.lamp.kind} | every {log.interval_s} s, step {log.step_degc},"
            f" white {log.white_degc:.3f}, red {log.red_degc:.3f}/{log.red_s:.0f} s, spikes {log.spike_rate}, touches {log.touches},"
            f" moves {log.moves}, gaps {len(log.gaps)}, missing {log.missing:.3f}, dead {log.dead} | lags {lags} s")


def main():
    """Measures the families asked for and prints the tables."""
    args = arguments()
    if args.check:
        raise SystemExit(0 if check.run() else 1)
    names = args.families.split(",") if args.families else list(families.FAMILIES)
    print(judge.EDGE_HEAD)
    with tempfile.TemporaryDirectory() as temporary:
        for name in names:
            verdicts, seconds = measure(name, args, Path(temporary) / name)
            wrong, extra = sum(v.wrong_count for v in verdicts), sum(len(v.extra) for v in verdicts)
            off = judge.row(verdicts, "off")
            print(f"{name:12s} {len(verdicts):4d} | {off} | {wrong:6d} {extra:5d} {seconds:6.3f}", flush=True)
            print(f"{'':12s}   on | {judge.row(verdicts, 'on')} |")
            for kind in ("off", "on") if args.bound else ():
                print(f"{'':14s}{kind}, {bound.row(verdicts, kind)}", flush=True)
            for line in judge.value_rows(verdicts):
                print(f"{'':14s}{line}")
            for verdict in verdicts:
                report(verdict, args)


def report(verdict, args):
    """Keeps and tells a failure, as asked."""
    why = failure(verdict)
    if not why:
        return
    if args.keep:
        args.keep.mkdir(parents=True, exist_ok=True)
        if verdict.record.path.stat().st_size < 2_000_000:
            shutil.copy(verdict.record.path, args.keep)
    if args.details:
        print(f"    {verdict.record.path.stem}: {why}\n        {describe(verdict.record.plan)}")


if __name__ == "__main__":
    main()
