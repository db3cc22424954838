#!/usr/bin/env python3
"""Makes the pictures in `screenshots/`: the real program in a real pseudo-terminal, key by key.

    cargo build --release
    python3 -m venv .venv && .venv/bin/pip install pyte pillow
    .venv/bin/python tests/screenshots.py target/release/witnessmark

Needs Python 3.9, pyte (a terminal in memory), pillow (drawing), and the font DejaVu Sans Mono, which
Debian has as `fonts-dejavu-core`. Nothing is drawn by hand: every picture is what the terminal holds.
"""

import fcntl
import math
import os
import pty
import re
import select
import shutil
import struct
import sys
import tempfile
import termios
import time
from pathlib import Path

import pyte
from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "screenshots"
FONTS = Path("/usr/share/fonts/truetype/dejavu")
SIZE = 18
# Seconds between keys: what comes in a burst is taken for a paste, and the same key soon again for one
# that is held down.
PAUSE = 0.8

DARK = {"fg": "#d8dee4", "bg": "#14181c", "dim": "#8a949e"}
LIGHT = {"fg": "#1c2126", "bg": "#fbfaf7", "dim": "#767d85"}
COLOURS = {
    "dark": {"red": "#f2727f", "green": "#7fd88f", "brown": "#e5c454", "blue": "#6fb0ff",
             "magenta": "#e08be8", "cyan": "#6cd0d8", "black": "#14181c", "white": "#f4f6f8"},
    "light": {"red": "#b3162b", "green": "#14702c", "brown": "#e0b400", "blue": "#1555b0",
              "magenta": "#8d1fa0", "cyan": "#0f7078", "black": "#1c2126", "white": "#ffffff"},
}
# The eight colours as the terminal in memory names them when they come by number.
NUMBERED = {"000000": "black", "cd0000": "red", "00cd00": "green", "cdcd00": "brown",
            "0000ee": "blue", "cd00cd": "magenta", "00cdcd": "cyan", "e5e5e5": "white"}
# Behind text, a colour is as strong as a terminal shows it.
BEHIND = {"red": "#c1121f", "brown": "#e5b800", "blue": "#1d5fbf", "magenta": "#c46bd0"}


class Terminal:
    """The program at the other end of a pseudo-terminal."""

    def __init__(self, command, columns, rows):
        self.columns, self.rows = columns, rows
        self.screen = pyte.Screen(columns, rows)
        self.stream = pyte.ByteStream(self.screen)
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            env = {"TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8", "TZ": "UTC",
                   "PATH": os.environ["PATH"]}
            os.execve(command[0], command, env)
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def read(self, seconds):
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            ready, _, _ = select.select([self.fd], [], [], left)
            if not ready:
                return
            try:
                data = os.read(self.fd, 65536)
            except OSError:
                return
            # The terminal in memory has one screen only; a real one shows the other one empty.
            before, taken, after = data.partition(b"\x1b[?1049h")
            self.stream.feed(before)
            if taken:
                self.screen.reset()
            self.stream.feed(after)

    def text(self):
        return "\n".join(self.screen.display)

    def until(self, wanted, seconds=60):
        end = time.monotonic() + seconds
        while wanted not in self.text():
            if time.monotonic() > end:
                sys.exit(f"`{wanted}` never came:\n{self.text()}")
            self.read(0.1)

    def keys(self, *keys):
        for key in keys:
            os.write(self.fd, key.encode())
            self.read(PAUSE)

    def close(self):
        os.kill(self.pid, 15)
        self.read(0.3)
        os.close(self.fd)
        os.waitpid(self.pid, 0)

    def look(self):
        """A copy of what the screen holds, to be drawn more than once."""
        rows = [[self.screen.buffer[y][x] for x in range(self.columns)] for y in range(self.rows)]
        at = None if self.screen.cursor.hidden else (self.screen.cursor.x, self.screen.cursor.y)
        return rows, at


def draw(look, shade):
    """The picture of a screen."""
    rows, at = look
    base, named = (DARK, COLOURS["dark"]) if shade == "dark" else (LIGHT, COLOURS["light"])
    plain = ImageFont.truetype(str(FONTS / "DejaVuSansMono.ttf"), SIZE)
    bold = ImageFont.truetype(str(FONTS / "DejaVuSansMono-Bold.ttf"), SIZE)
    wide = round(plain.getlength("M"))
    high = SIZE + 5
    margin = 12
    picture = Image.new(
        "RGB", (len(rows[0]) * wide + 2 * margin, len(rows) * high + 2 * margin), base["bg"]
    )
    pen = ImageDraw.Draw(picture)

    def colour(name, default, behind=False):
        if name == "default":
            return default
        name = NUMBERED.get(name, name)
        if len(name) == 6 and name not in named and all(c in "0123456789abcdef" for c in name):
            return f"#{name}"
        if behind and name in BEHIND:
            return BEHIND[name]
        return named.get(name, default)

    for y, row in enumerate(rows):
        for x, cell in enumerate(row):
            fg = colour(cell.fg, base["fg"])
            bg = colour(cell.bg, base["bg"], behind=True)
            if NUMBERED.get(cell.fg, cell.fg) == "black" and cell.bg != "default":
                fg = "#101010"
            if cell.reverse:
                fg, bg = base["bg"], base["fg"]
            left, top = margin + x * wide, margin + y * high
            if bg != base["bg"]:
                pen.rectangle((left, top, left + wide - 1, top + high - 1), fill=bg)
            if cell.data == "▀":
                # A photo: the upper half of the cell is in front, the lower half behind.
                pen.rectangle((left, top, left + wide - 1, top + high // 2), fill=fg)
            elif cell.data.strip():
                pen.text((left, top + 1), cell.data, font=bold if cell.bold else plain, fill=fg)
            if cell.underscore:
                pen.line((left, top + high - 2, left + wide - 1, top + high - 2), fill=fg)
    if at is not None:
        left, top = margin + at[0] * wide, margin + at[1] * high
        pen.rectangle((left, top, left + wide - 1, top + high - 1), outline=named["brown"], width=2)
    return picture


def save(terminal, name):
    look = terminal.look()
    for shade in ("dark", "light"):
        draw(look, shade).save(OUT / f"{name}_{shade}.png", optimize=True)


def passphrase(shop, who):
    for line in (shop / "keys/passphrases.txt").read_text().splitlines():
        if line.startswith(f"{who}: "):
            return line.split(": ", 1)[1]
    sys.exit(f"no passphrase of {who}")


def identify(terminal, shop):
    terminal.until("Who is at work")
    terminal.keys("\r")
    terminal.until("Passphrase")
    terminal.keys(passphrase(shop, "i.varga"), "\r")


def valve(binary, shop):
    """The first valve of the demo: a finding, then a reading against its limit."""
    terminal = Terminal([binary, "demo", "--shop", str(shop)], 80, 24)
    identify(terminal, shop)
    terminal.until("Look at the spring")
    terminal.keys("2")
    save(terminal, "finding")
    terminal.keys("1", "\r")
    terminal.until("Measure the free length")
    terminal.keys("\t", "\r", "37.9")
    save(terminal, "reading")
    terminal.keys("\x15", "\x06")
    terminal.until("The path of the photo")
    spring().save("spring.png")
    terminal.keys("spring.png", "\t")
    terminal.until("PHOTO")
    # The picture comes after the words.
    terminal.read(2)
    terminal.read(2)
    save(terminal, "photo")
    terminal.close()


def spring():
    """A photo as a telephone would take it: a worn spring on the bench, lit from one side."""
    wide, high = 640, 480
    picture = Image.new("RGB", (wide, high))
    pixels = picture.load()
    for y in range(high):
        for x in range(wide):
            # The wood of the bench, with its grain.
            grain = 12 * math.sin(y / 9 + 3 * math.sin(x / 160)) + 6 * math.sin(y / 2.7)
            shade = 0.75 + 0.35 * x / wide
            pixels[x, y] = tuple(int(c * shade + grain) for c in (126, 92, 60))
    pen = ImageDraw.Draw(picture)
    # The coils lean: the spring is tired on one side.
    for n in range(9):
        left, top = 150 + n * 36, 150 + n * 5
        for depth, tone in ((0, (38, 40, 44)), (4, (112, 118, 124)), (8, (214, 220, 226)), (13, (120, 126, 132))):
            pen.arc((left + depth, top + depth, left + 92 - depth, top + 170 - depth), 0, 360, fill=tone, width=5)
    return picture


def head(name, title):
    """What a job made for a picture begins with, the first of its steps included."""
    return f"""format: "1.0"
procedure: {name}
title: {title}
equipment: diaphragm_pump
revision: 1
effective: 2025-03-03
revisions: [{{revision: 1, date: 2025-02-24, by: m.dube, what: First issue, why: For a picture}}]
performed_by: apprentice
signed_by: mechanic
signal_words: ansi-z535
steps:
  - id: name_plate
    enter: Enter the letter on the name plate.
    kind: fit_out
"""


# A job that is only the laying of one valve; the demo shop has it inside a longer one.
ONE_VALVE = head("one_valve", "Lay one inlet valve") + """  - id: cylinders
    section: Cylinder
    each: cylinder
    steps:
      - id: pockets
        section: Valve
        each: side
        steps:
          - id: lay_inlet
            when: side == inlet
            perform: valve_stack_inlet
          - id: lay_outlet
            when: side == outlet
            perform: valve_stack_outlet
"""


# A job that is only the tightening of one cover.
ONE_COVER = head("one_cover", "Tighten the cover") + """  - id: rim_nuts
    tighten: Tighten the rim nuts, star by star.
    fasteners: rim
    torque: rim.nuts
    with: torque_wrench
    passes: ["30 %", "60 %", "100 %"]
    on_redo: {from_pass: 3}
    expect: The wrench clicks once at each nut.
    not_so: {verdict: refer, say: A nut that does not come to its torque is for the mechanic.}
"""


def opened(binary, shop, procedure, size):
    """A job of a procedure that is approved for it, with the apprentice at work."""
    name, text = procedure
    (shop / f"procedures/{name}.yaml").write_text(text)
    approve = [binary, "approve", name, "--equipment", "marram_3_40", "--by", "t.reiter"]
    terminal = Terminal([*approve, "--shop", str(shop)], 100, 24)
    for who in ("t.reiter", "shop"):
        terminal.read(2)
        terminal.keys(passphrase(shop, who), "\r")
    terminal.read(5)
    print(terminal.text().strip())
    command = [binary, "open", name, "--machine", "P-101A", "--shop", str(shop)]
    terminal = Terminal(command, *size)
    identify(terminal, shop)
    terminal.read(1)
    return terminal


def circle(binary, shop):
    """The nuts of a cover, half-way through the second pass."""
    terminal = opened(binary, shop, ("one_cover", ONE_COVER), (80, 24))
    for _ in range(40):
        text = terminal.text()
        if "letter on the name plate" in text:
            terminal.keys("1", "\r")
        elif "The wrench is set to" in text:
            aim = re.search(r"at the fastener: ([0-9.]+) N·m to ([0-9.]+)", text)
            figure = (float(aim[1]) + float(aim[2])) / 2
            if "press tab" in text:
                terminal.keys("\t", "\r")
            if "press ctrl-y" in text:
                terminal.keys("\x19")
            terminal.keys(f"{figure:g}", "\r")
        elif "pass 2 of 3" in text and " 3/8" in text:
            break
        elif "  NEXT  " in text:
            terminal.keys("y")
        else:
            terminal.keys("\r")
    else:
        sys.exit(f"the circle never came:\n{terminal.text()}")
    save(terminal, "circle")
    terminal.close()


def stack(binary, shop):
    """One inlet valve laid part by part, each layer a picture of the short film."""
    terminal = opened(binary, shop, ("one_valve", ONE_VALVE), (120, 30))
    film = []
    for _ in range(60):
        text = terminal.text()
        if "Its lot" in text:
            terminal.keys("L-4417", "\r")
        elif "  NEXT  " in text:
            film.append(terminal.look())
            if len(film) == 4:
                save(terminal, "stack")
            terminal.keys("y")
        elif film:
            film.append(terminal.look())
            break
        elif "letter on the name plate" in text:
            terminal.keys("1", "\r")
        elif "so?" in text:
            terminal.keys("y")
        elif "Press r" in text:
            terminal.keys("r")
        else:
            terminal.keys("\r")
    else:
        sys.exit(f"the stack never came:\n{terminal.text()}")
    frames = [draw(look, "dark") for look in film]
    frames[0].save(
        OUT / "stack.gif", save_all=True, append_images=frames[1:], duration=1100, loop=0, optimize=True
    )
    terminal.close()


def bench(binary, shop):
    """The bench, with the jobs that the pictures before have left."""
    terminal = Terminal([binary, "bench", "--shop", str(shop)], 100, 24)
    terminal.until("Bench:")
    terminal.keys("\x1b[B")
    terminal.read(1)
    save(terminal, "bench")
    terminal.close()


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    binary = str(Path(sys.argv[1]).resolve())
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        shop = Path(folder) / "marram"
        # Paths that are typed are short: the pictures show no place of this machine.
        os.chdir(folder)
        for part in (valve, stack, circle, bench):
            part(binary, shop)
        os.chdir(ROOT)
    shutil.rmtree(ROOT / "tests/__pycache__", ignore_errors=True)


if __name__ == "__main__":
    main()
