"""typed.py KEYS COMMAND...: the command on a terminal of its own, 80 by 24, with keys typed at it.

KEYS come in pieces that are parted by a space, each when nothing more is drawn; in them ^[ is Escape and ^M
Enter. Then follow Escape and q, at last Ctrl-C, so that the program is told to leave whatever became of the
keys. What it draws goes to standard output. Ends as the command does; 100 and the signal that ended it;
98: it hung; 97: the terminal's modes are not as they were."""
import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time

QUIET_S, HUNG_S = 0.1, 60


def own_terminal():
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


keys = [k.replace("^[", "\x1b").replace("^M", "\r").encode() for k in sys.argv[1].split(" ")]
keys += [b"\x1b", b"\x1b", b"q"] * 3 + [b"\x03"] * 3
master, slave = pty.openpty()
fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
before = termios.tcgetattr(slave)
program = subprocess.Popen(sys.argv[2:], stdin=slave, stdout=slave, stderr=slave, preexec_fn=own_terminal)
start = drawn = time.monotonic()
out = b""
while True:
    over = program.poll() is not None
    if select.select([master], [], [], 0 if over else 0.05)[0]:
        out += os.read(master, 65536)
        drawn = time.monotonic()
        continue
    now = time.monotonic()
    if over or now - start > HUNG_S:
        break
    if keys and (b"\x1b[" in out or now - start > 3) and now - drawn > QUIET_S:
        os.write(master, keys.pop(0))
        drawn = now
if program.poll() is None:
    program.kill()
    program.wait()
    sys.exit(98)
sys.stdout.buffer.write(out)
sys.stdout.flush()
if termios.tcgetattr(slave) != before:
    sys.exit(97)
sys.exit(program.returncode if program.returncode >= 0 else 100 - program.returncode)
