"""Labels on paper: drawn, rendered by two renderers, and read by decoders that share nothing with the encoder.

    test_labels.py LABEL_DRAW [--keep DIR]

Every length of code, on every size of label, as SVG (rsvg-convert) and PDF (pdftoppm), in grey at 300 dpi and in black
and white as thermal printers of 12 and 8 dots/mm put it: zbarimg must read the Code 128, dmtxread the Data Matrix, and
both must say the code and nothing else. A module of less than 2 dots is not asked of Code 128: that is a long code on
100x60 mm at 8 dots/mm, where the Data Matrix is the one to scan. Exit status 77: a tool is not installed, and which.
"""
import itertools
import json
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

TOOLS = ["zbarimg", "dmtxread", "rsvg-convert", "pdftoppm", "pdftotext", "pdfinfo", "qpdf"]
SIZES = {"100x60": (100, 60), "100x150": (100, 150), "62": (62, None)}
LOT, WELD, BATCH, REEL = range(4)
PRINTERS = [(300, 85, False), (304.8, 83, True), (203.2, 125, True)]  # dpi, dot in um, black and white
CREATED = 1772615520  # 2026-03-04T09:12:00Z
CAUTION = ("The minimum breaking force is not a working load. Choose rope, design factor and inspection with a "
           "competent person and the rules in force. Inspect before use; take out of service at the discard limits.")
SVG = "{http://www.w3.org/2000/svg}"

FIELDS = {"heat": "H48211, H48212", "size": "3.175 mm", "grade": "1960 N/mm2", "length": "4 200 m",
          "date": "2026-03-04 09:12", "who": "R. Okafor"}


def codes():
    """Codes of several lengths: all letters (the widest), all digits (the narrowest), and mixed as mills write them."""
    rng = random.Random(128)
    yield from ["A", "7", "BB-1", "RL-2026-0117", "J-0A1B2C3D4E5F-12", "H48211/3.B-07", "-./", "345678"]
    for n in (16, 24, 31, 32, 40):
        yield "".join(rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(n))
    yield "W" * 40
    yield "0123456789" * 4
    yield "".join(rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789./-") for _ in range(40))


def label(what, code, **more):
    return {"what": what, "code": code, **FIELDS, **more}


def cases():
    for i, code in enumerate(codes()):
        if i % 2:
            yield label(REEL, code, kind="Reel", rope="R-26-000417")
        else:
            yield label(LOT, code, kind="Bobbin")


class Bench:
    def __init__(self, draw, folder):
        self.draw, self.folder, self.failed, self.checks = draw, pathlib.Path(folder), 0, 0
        self.number = itertools.count()

    def make(self, size, form, labels, created=CREATED):
        done = subprocess.run([self.draw, size, form, str(created)], input=json.dumps(labels).encode(),
                              capture_output=True)
        if done.returncode:
            raise SystemExit(f"label_draw {size} {form}: {done.stderr.decode()}")
        path = self.folder / f"{next(self.number)}-{size}.{form}"
        path.write_bytes(done.stdout)
        return path

    def expect(self, name, got, wanted):
        self.checks += 1
        if got != wanted:
            self.failed += 1
            print(f"not as it should be: {name}\n    wanted {wanted!r}\n    got    {got!r}")


def run(*command, ok=(0,)):
    done = subprocess.run([str(c) for c in command], capture_output=True)
    if done.returncode not in ok:
        raise SystemExit(f"{command}: {done.returncode} {done.stderr.decode()}")
    return done.stdout.decode()


def bars(image):
    """What zbarimg reads as Code 128; it leaves with 4 when it finds nothing."""
    return run("zbarimg", "-q", "--raw", "-Sdisable", "-Scode128.enable", image, ok=(0, 4)).split("\n")[:-1]


def matrix(image):
    return run("dmtxread", "-N", "1", "-m", "5000", image, ok=(0, 1))


def pdf_pages(path, dpi, mono):
    stem = path.with_suffix(f".{dpi}{'m' if mono else 'g'}")
    run("pdftoppm", "-r", dpi, "-mono" if mono else "-gray", path, stem)
    return sorted(stem.parent.glob(stem.name + "-*.p?m"))


def check_pdf(bench, size, labels):
    path = bench.make(size, "pdf", labels)
    run("qpdf", "--check", path)
    bench.expect(f"{size}: the same labels, the same bytes", bench.make(size, "pdf", labels).read_bytes() == path.read_bytes(),
                 True)
    info = run("pdfinfo", "-isodates", path)
    bench.expect(f"{size}: creation date", re.search(r"CreationDate:\s+(\S+)", info)[1], "2026-03-04T09:12:00Z")
    bench.expect(f"{size}: pages", int(re.search(r"Pages:\s+(\d+)", info)[1]), len(labels))
    for page, one in enumerate(labels, 1):
        check_text(bench, f"{size} {one['code']}", run("pdftotext", "-f", page, "-l", page, "-raw", path, "-"), one)
    fine = {one["code"]: module_um(bench.make(size, "svg", [one])) for one in labels}
    for dpi, dot_um, mono in PRINTERS:
        for image, one in zip(pdf_pages(path, dpi, mono), labels):
            name = f"PDF {size} at {dpi} dpi{' black and white' if mono else ''}: {one['code']}"
            bench.expect(name + ", Data Matrix", matrix(image), one["code"])
            if not mono or fine[one["code"]] >= 2 * dot_um:
                bench.expect(name + ", Code 128", bars(image), [one["code"]])


def module_um(path):
    """How wide a module of the Code 128 is, from the drawing: the symbol that is 1 module high, standing or lying."""
    for e in ET.parse(path).getroot().iter(SVG + "svg"):
        wide, high = (int(float(x)) for x in e.get("viewBox", "0 0 0 0").split()[2:])
        if 1 in (wide, high):
            return round(10 * float(e.get("width" if high == 1 else "height")) / max(wide, high))
    raise SystemExit(f"{path}: no Code 128")


def check_text(bench, name, text, one):
    """The large code may stand in two lines; the caution always does."""
    packed = re.sub(r"\s+", "", text)
    for member in ("code", "heat", "size", "grade", "length", "date", "who", "rope"):
        if member in one:
            bench.expect(f"{name}: {member} in pdftotext", re.sub(r"\s+", "", one[member]) in packed, True)
    if one["what"] == REEL:
        bench.expect(f"{name}: caution in pdftotext", re.sub(r"\s+", "", CAUTION) in packed, True)


def check_svg(bench, size, one):
    path = bench.make(size, "svg", [one])
    root = ET.parse(path).getroot()
    width, height = (float(root.get(k).removesuffix("mm")) for k in ("width", "height"))
    bench.expect(f"{size}: width", width, float(SIZES[size][0]))
    if SIZES[size][1]:
        bench.expect(f"{size}: height", height, float(SIZES[size][1]))
    shown = "".join(t.text for t in root.iter(SVG + "text"))
    bench.expect(f"SVG {size}: the code is shown", one["code"] in shown, True)
    image = path.with_suffix(".png")
    run("rsvg-convert", "-d", 300, "-p", 300, "-f", "png", "-o", image, path)
    name = f"SVG {size} at 300 dpi: {one['code']}"
    bench.expect(name + ", Code 128", bars(image), [one["code"]])
    bench.expect(name + ", Data Matrix", matrix(image), one["code"])


def check_several(bench, size):
    """Several labels below one another in one SVG: each a label and a view of its own."""
    labels = list(cases())[:4]
    path = bench.make(size, "svg", labels)
    root = ET.parse(path).getroot()
    ids = [e.get("id") for e in root if e.get("id")]
    bench.expect(f"{size}: labels and views", sorted(ids),
                 sorted(f"{k}-{i}" for i in range(1, 5) for k in ("label", "page")))
    image = path.with_suffix(".png")
    run("rsvg-convert", "-d", 300, "-p", 300, "-f", "png", "-o", image, path)
    bench.expect(f"{size}: all are read", sorted(bars(image)), sorted(one["code"] for one in labels))


def check_hostile_texts(bench, size):
    """Markup in a text stays text, in both forms."""
    nasty = "<b>&\"'</b> ]]> \u00d8 3/16\u2033 \u00e9\u4e2d"
    one = label(LOT, "BB-1", heat=nasty, who="x" * 2000)
    svg = ET.parse(bench.make(size, "svg", [one])).getroot()
    shown = "".join(t.text for t in svg.iter(SVG + "text")).replace(" ", "")
    bench.expect(f"{size}: markup is shown as text", nasty.replace(" ", "") in shown, True)
    bench.expect(f"{size}: no element out of a text", [e.tag for e in svg.iter(SVG + "b")], [])
    pdf = bench.make(size, "pdf", [one])
    run("qpdf", "--check", pdf)


def worked_example(bench):
    """ISO/IEC 16022's worked example: 123456 is one 10x10 symbol of 3 data and 5 check codewords."""
    root = ET.parse(bench.make("100x60", "svg", [{"what": LOT, "code": "123456"}])).getroot()
    found = [e for e in root.iter(SVG + "svg") if e.get("viewBox") == "0 0 10 10"]
    bench.expect("123456 is a 10x10 symbol", len(found), 1)
    dark = set()
    for x, y, w, h in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)", found[0][0].get("d")):
        dark |= {(int(x) + i, int(y) + j) for i in range(int(w)) for j in range(int(h))}
    bench.expect("123456 as codewords", codewords(dark, 8), [142, 164, 186, 114, 25, 5, 88, 102])


def codewords(dark, side):
    """Reads the 8 modules of each codeword along the standard's diagonals (Annex F), a mapping of @side by @side."""
    seen, words = set(), []

    def module(row, col):
        if row < 0:
            row, col = row + side, col + 4 - (side + 4) % 8
        if col < 0:
            row, col = row + 4 - (side + 4) % 8, col + side
        seen.add((row, col))
        return (col + 1, row + 1) in dark  # one module of finder at each side

    def word(places):
        words.append(sum(module(r, c) << (7 - i) for i, (r, c) in enumerate(places)))

    def utah(r, c):
        word([(r - 2, c - 2), (r - 2, c - 1), (r - 1, c - 2), (r - 1, c - 1), (r - 1, c), (r, c - 2), (r, c - 1), (r, c)])

    row, col = 4, 0
    while row < side or col < side:
        if row == side and col == 0:
            word([(side - 1, 0), (side - 1, 1), (side - 1, 2), (0, side - 2), (0, side - 1), (1, side - 1), (2, side - 1),
                  (3, side - 1)])
        while row >= 0 and col < side:
            if row < side and col >= 0 and (row, col) not in seen:
                utah(row, col)
            row, col = row - 2, col + 2
        row, col = row + 1, col + 3
        while row < side and col >= 0:
            if row >= 0 and col < side and (row, col) not in seen:
                utah(row, col)
            row, col = row + 2, col - 2
        row, col = row + 3, col + 1
    return words


def main():
    missing = [tool for tool in TOOLS if not shutil.which(tool)]
    if missing:
        print("skipped: not installed:", ", ".join(missing))
        return 77
    keep = sys.argv[3] if len(sys.argv) > 3 and sys.argv[2] == "--keep" else None
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(sys.argv[1], keep or folder)
        worked_example(bench)
        for size in SIZES:
            labels = list(cases())
            check_pdf(bench, size, labels)
            for one in labels:
                check_svg(bench, size, one)
            check_several(bench, size)
            check_hostile_texts(bench, size)
    print(f"{bench.checks} checks, {bench.failed} failed")
    return 1 if bench.failed else 0


if __name__ == "__main__":
    sys.exit(main())
