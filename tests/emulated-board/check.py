#!/usr/bin/env python3
"""Checks of the emulated board, seen from the host's side of the port.

usage: check.py build/emulated-board FIRMWARE.hex WRAP.hex

WRAP.hex is the same firmware built with FIRST_MS=4294964000 FIRST_SEQ=4294967280.

Every check opens the port as a host does, parses the lines by the text of
firmware-notes/line-protocol.md alone (the checksum comes from Python's
binascii.crc_hqx, not from the firmware) and compares temperatures with the truth
file. Standard library only.
"""
import binascii, fcntl, math, os, select, subprocess, sys, tempfile, termios, time, tty

BOARD, HEX, WRAP_HEX = sys.argv[1:4]
HELLO = (b" channels=2 unit=adc full=65536 fixed_ohm=10000 ntc=low period_ms=250",
         b" skew_us=112")


def good(line):
    """Does the line end in its own checksum?"""
    return (5 <= len(line) <= 120 and line[-5:-4] == b"*"
            and line[-4:] == b"%04X" % binascii.crc_hqx(line[:-5], 0xFFFF))


def degc(count):
    """B equation; 10 kOhm at 25 degC, B = 3950 K, 10 kOhm above, no correction."""
    ratio = count / 65536
    return 1 / (1 / 298.15 + math.log(ratio / (1 - ratio)) / 3950) - 273.15


class Run:
    """One run of the board, read until it ends."""

    def __init__(self, *options, speed="0", run="140", say=(), reopen=False, hex=HEX,
                 asleep_s=0):
        self.folder = tempfile.TemporaryDirectory()
        self.link = os.path.join(self.folder.name, "port")
        self.truth_path = os.path.join(self.folder.name, "truth.csv")
        self.received, self.arrivals, self.closed = b"", [], 0
        board = subprocess.Popen(
            [BOARD, "--hex", hex, "--link", self.link, "--truth", self.truth_path, "--speed",
             speed, "--run", run, "--wait", *options], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        try:
            assert board.stdout.readline() == f"ready {self.link}\n"
            self.read(board, list(say), reopen, asleep_s)
            out, self.complaints = board.communicate(timeout=20)
            self.said = out.splitlines()
            assert board.returncode == 0, self.complaints
        finally:
            board.kill()
            board.wait()
        assert not os.path.lexists(self.link), "the link is removed at the end"
        with open(self.truth_path) as file:
            self.zero_ns = int(file.readline().split("=")[1])
            assert file.readline() == "board_ms,slate_degc,moss_degc,lamp\n"
            rows = [row.split(",") for row in file]
        self.truth = {int(ms): (float(slate), float(moss), int(lamp))
                      for ms, slate, moss, lamp in rows}
        self.lines = [line.rstrip(b"\r") for line in self.received.split(b"\n")]
        self.folder.cleanup()

    def read(self, board, say, reopen, asleep_s):
        port = self.open()
        time.sleep(asleep_s)  # a host that does not read
        while True:
            try:
                part = os.read(port, 4096) if select.select([port], [], [], 10)[0] else None
            except OSError:  # the board was unplugged under us
                part = b""
            assert part is not None, "10 s of silence"
            if part:
                self.received += part
                self.arrivals.append((time.clock_gettime_ns(time.CLOCK_BOOTTIME),
                                      len(self.received)))
                while say and say[0][0] in self.received:
                    os.write(port, say.pop(0)[1])
                continue
            os.close(port)
            self.closed += 1
            if not reopen or self.closed > 1:
                return
            deadline = time.monotonic() + 10
            while not os.path.exists(self.link):
                assert time.monotonic() < deadline and board.poll() is None
                time.sleep(0.001)
            port = self.open()

    def open(self):
        port = os.open(self.link, os.O_RDWR | os.O_NOCTTY)
        mode = termios.tcgetattr(port)
        assert not mode[3] & (termios.ECHO | termios.ICANON), "the port is raw from the start"
        return port

    def samples(self):
        """(seq, ms, counts) of every good sample line."""
        fields = [line[1:-5].split(b",") for line in self.lines
                  if line[:1] == b">" and good(line)]
        return [(int(f[0]), int(f[1]), [int(v) for v in f[2:]]) for f in fields]

    def hellos(self):
        return [line for line in self.lines if line[:1] == b"!" and good(line)]

    def boots(self):
        return [hello for hello in self.hellos() if b" reset=" in hello]

    def bad(self):
        return [line for line in self.lines if line and not good(line)]


def steady(samples, step_ms=250):
    return all(b[0] == a[0] + 1 and b[1] == a[1] + step_ms for a, b in zip(samples, samples[1:]))


def lesson_is_true():
    """A whole lesson: nothing lost, and the counts give the truth back."""
    run = Run()
    samples = run.samples()
    assert not run.bad(), run.bad()
    first = run.boots()[0]
    assert first.startswith(b"!duskmark 1 id=") and b" reset=power*" in first
    assert all(HELLO[0] in hello for hello in run.hellos()) and HELLO[1] in run.hellos()[-1]
    assert len(run.hellos()) == 1 + (HELLO[1] not in first), "a second hello only if need be"
    assert samples[0][:2] == (0, 17) and len(samples) == 560 and steady(samples)
    assert run.said == ["lamp on at 20.000", "lamp off at 80.000", "done"]
    errors = [[], []]
    for _, ms, counts in samples:
        low = ms - ms % 100
        for channel in (0, 1):
            a, b = run.truth[low][channel], run.truth.get(low + 100, run.truth[low])[channel]
            errors[channel].append(degc(counts[channel]) - (a + (b - a) * (ms - low) / 100))
    for channel, name in ((0, "slate"), (1, "moss")):
        mean = sum(errors[channel]) / len(samples)
        rms = math.sqrt(sum(e * e for e in errors[channel]) / len(samples))
        worst = max(map(abs, errors[channel]))
        rise = run.truth[80000][channel] - run.truth[20000][channel]
        print(f"  {name}: rise {rise:.2f} degC, error mean {mean:+.4f} rms {rms:.4f} "
              f"worst {worst:.4f} degC")
        # One step of one conversion is 0.09 degC; 64 of them with noise do better.
        assert abs(mean) < 0.003 and rms < 0.02 and worst < 0.06
        assert 6 <= rise <= 15


def same_seed_same_bytes():
    faults = ("--fault", "garbage@5+64,reset@9,open1@3+2", "--seed", "7")
    first = Run(*faults, run="12").received
    assert first == Run(*faults, run="12").received, "same seed, same bytes"
    assert first == Run(*faults, run="12", speed="20").received, "at every speed"
    assert first != Run(*faults[:-1], "8", run="12").received, "another seed, other bytes"


def real_time_is_real():
    """At speed 1 no byte is early, and few are later than a few milliseconds."""
    run = Run(run="10", speed="1")
    assert not run.bad() and steady(run.samples()) and len(run.samples()) == 40
    delays, at = [], 0
    for line in run.received.splitlines(keepends=True):
        at += len(line)
        if line[:1] == b">":
            arrival = next(ns for ns, count in run.arrivals if count >= at)
            delays.append((arrival - run.zero_ns) / 1e6 - int(line.split(b",")[1]))
    # Half a burst (7 ms) and the line itself (about 2 ms) come after MS.
    delays.sort()
    print(f"  from MS to the host: least {delays[0]:.2f} ms, median {delays[20]:.2f} ms, "
          f"most {delays[-1]:.2f} ms")
    assert delays[0] > 7 and delays[20] < 30


def requests_are_answered():
    run = Run(run="20", speed="10", say=[(b">4,", b"\n?\r\n"), (b">8,", b"?period_ms=100\n"),
                             (b">30,", b"?period_ms=1\nnonsense\n"),
                             (b">60,", b"?period_ms=1000\n" + b"x" * 60 + b"\n")])
    assert not run.bad() and len(run.boots()) == 1, run.bad()
    hellos = [hello for hello in run.hellos() if b" reset=" not in hello][-4:]
    assert [h.split(b"period_ms=")[1].split()[0] for h in hellos] == [
        b"250", b"100", b"100", b"1000"]
    assert run.lines.count(b"#unknown request*BAE4") == 2
    samples = run.samples()
    assert all(b[0] == a[0] + 1 for a, b in zip(samples, samples[1:]))
    steps = {b[1] - a[1] for a, b in zip(samples, samples[1:])}
    assert {250, 100, 1000} <= steps and len(steps) <= 5, steps


def floods_do_no_harm():
    """Thousands of requests: few answers, no sample lost."""
    run = Run(run="20", speed="10", say=[(b">4,", b"?\n" * 600 + b"zz\n" * 300)])
    assert not run.bad() and steady(run.samples()) and len(run.samples()) == 80
    assert 2 <= len(run.hellos()) <= 8, len(run.hellos())
    assert 1 <= run.lines.count(b"#unknown request*BAE4") <= 3


def reset_starts_again():
    run = Run("--fault", "reset@5.003", run="10")
    samples = run.samples()
    restart = [i for i in range(1, len(samples)) if samples[i][0] == 0]
    assert len(restart) == 1 and samples[restart[0]][1] == 17
    assert steady(samples[:restart[0]]) and steady(samples[restart[0]:])
    assert len(run.boots()) == 2 and b" reset=external*" in run.boots()[1]
    assert len(run.bad()) <= 1, "at most the line cut by the reset"


def watchdog_ends_a_hang():
    """The converter stops at 5 s: the board restarts itself and says why."""
    run = Run("--fault", "hang@5", run="15")
    samples = run.samples()
    assert len(run.boots()) == 2 and b" reset=watchdog*" in run.boots()[1]
    assert steady(samples[:20]) and steady(samples[20:]) and samples[20][0] == 0
    silent_ms = 15000 - (samples[-1][1] - samples[20][1]) - samples[19][1]
    print(f"  silent for {silent_ms} ms at most")
    assert 2000 < silent_ms < 4000 and "watchdog reset the board 1 time" in run.complaints


def a_minute_between_samples_is_no_hang():
    run = Run(run="200", speed="50", say=[(b">4,", b"?period_ms=4000000000\n")])
    assert b"period_ms=60000 " in run.hellos()[-1] and not run.complaints, run.complaints
    assert len(run.boots()) == 1 and run.samples()[-1][1] - run.samples()[-2][1] == 60000


def counters_wrap():
    run = Run(run="8", hex=WRAP_HEX)
    samples = run.samples()
    assert not run.bad() and len(samples) == 32 and not run.complaints
    for i, (seq, ms, _) in enumerate(samples):
        assert seq == (4294967280 + i) % 2**32 and ms == (4294964000 + 17 + 250 * i) % 2**32


def a_slow_host():
    """At speed 0 the board waits for it; above, the newest bytes are lost and it shows."""
    run = Run(run="600", asleep_s=1)
    assert not run.bad() and steady(run.samples()) and len(run.samples()) == 2400
    run = Run(run="1000", speed="250", asleep_s=3)
    samples = run.samples()
    lost = 4000 - len(samples)
    print(f"  {lost} of 4000 lines lost, {len(run.bad())} damaged; said: {run.complaints.strip()}")
    assert lost > 100 and "bytes dropped" in run.complaints and len(run.bad()) < 50
    assert all(ms == 17 + 250 * seq for seq, ms, _ in samples), "no splice passes for a sample"


def wires_come_off():
    run = Run("--fault", "open1@3+2,short2@4+2", run="8")
    assert not run.bad() and steady(run.samples())
    for _, ms, (one, two) in run.samples():
        if 3010 < ms < 4990:
            assert one == 64 * 1023, (ms, one)
        if 4010 < ms < 5990:
            assert two == 0, (ms, two)
        if ms < 2990 or ms > 5010:
            assert 20000 < one < 45000
        if ms < 3990 or ms > 6010:
            assert 20000 < two < 45000


def garbage_spoils_one_or_two_lines():
    run = Run("--fault", "garbage@4.02+64", run="8")
    samples = run.samples()
    assert run.bad() and 30 <= len(samples) <= 32
    assert [s for s in samples if s[1] < 4000] == samples[:16]


def silence_loses_lines_but_not_numbers():
    run = Run("--fault", "silence@3+2", run="8")
    samples = run.samples()
    missing = set(range(32)) - {s[0] for s in samples}
    assert len(missing) in (7, 8, 9) and min(missing) in (11, 12, 13), missing
    assert all(ms == 17 + 250 * seq for seq, ms, _ in samples)


def unplug_and_replug():
    run = Run("--fault", "unplug@3+1", run="8", reopen=True, speed="4")
    samples = run.samples()
    assert run.closed == 2 and all(ms == 17 + 250 * seq for seq, ms, _ in samples)
    missing = set(range(32)) - {s[0] for s in samples}
    assert 3 <= len(missing) <= 8 and len(run.boots()) == 1, missing
    run = Run("--fault", "replug@3+1", run="8", reopen=True, speed="4")
    samples = run.samples()
    numbers = [s[0] for s in samples]
    assert run.closed == 2 and numbers[-1] in (14, 15) and numbers[:12] == list(range(12))


def closing_leaves_nothing_behind():
    """A host that locked the port, closed it unread and went away for a second."""
    with tempfile.TemporaryDirectory() as folder:
        link = os.path.join(folder, "port")
        board = subprocess.Popen([BOARD, "--hex", HEX, "--link", link, "--speed", "4", "--wait"],
                                 stdout=subprocess.PIPE, text=True)
        try:
            assert board.stdout.readline() == f"ready {link}\n"
            port = os.open(link, os.O_RDWR | os.O_NOCTTY)
            fcntl.ioctl(port, termios.TIOCEXCL)
            assert select.select([port], [], [], 10)[0], "a boot hello"
            time.sleep(0.5)  # lets lines pile up; nothing depends on how many
            os.close(port)
            time.sleep(1)  # how long the host is away: 4 s for the board
            port = os.open(link, os.O_RDWR | os.O_NOCTTY)
            assert not termios.tcgetattr(port)[3] & (termios.ECHO | termios.ICANON)
            heard = b""
            while heard.count(b"\n") < 3:
                assert select.select([port], [], [], 10)[0]
                heard += os.read(port, 4096)
            os.close(port)
        finally:
            board.terminate()
            assert board.wait(10) == 0 and not os.path.lexists(link)
        lines = heard.split(b"\r\n")[1:-1]  # the first may be cut
        assert all(map(good, lines)) and int(lines[0][1:].split(b",")[0]) >= 16, heard


CHECKS = [lesson_is_true, same_seed_same_bytes, real_time_is_real, requests_are_answered,
          floods_do_no_harm, reset_starts_again, watchdog_ends_a_hang, a_minute_between_samples_is_no_hang,
          counters_wrap, a_slow_host, wires_come_off,
          garbage_spoils_one_or_two_lines, silence_loses_lines_but_not_numbers,
          unplug_and_replug, closing_leaves_nothing_behind]
failures = 0
for check in CHECKS:
    try:
        check()
        print(f"ok {check.__name__}")
    except AssertionError as fault:
        failures += 1
        print(f"FAILED {check.__name__}, line {fault.__traceback__.tb_next.tb_lineno}: {fault}")
print(f"{len(CHECKS) - failures} passed, {failures} failed")
sys.exit(1 if failures else 0)
