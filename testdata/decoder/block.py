"""Reads coded blocks of readings: the text "block" that every steadyrail job file carries, put into Python.

    python3 block.py < FILE     for each line of FILE, a block in hexadecimal, a line of JSON: its rows

Written from that text and nothing else, in its words. A float stays the 8 bytes that it is and a text its bytes;
they are printed in hexadecimal: a float from its highest byte on."""
import collections, itertools, json, struct, sys

Row = collections.namedtuple("Row", "at tie value text resolution range flags measured half_width ordinal")
Form = collections.namedtuple("Form", "flags resolution range kind spell")  # spell: digits to (text, value)
M64 = (1 << 64) - 1

def need(true, say):
    if not true:
        raise ValueError(say)

def i64(x):
    """x wrapped around to 64 bits in two's complement."""
    return (x + (1 << 63) & M64) - (1 << 63)

def signed(z):
    return ~(z >> 1) if z & 1 else z >> 1

class Bytes:
    """A blob, read from its front."""

    def __init__(self, data):
        self.data, self.pos = data, 0

    def more(self):
        return self.pos < len(self.data)

    def take(self, n):
        self.pos += n
        need(self.pos <= len(self.data), "a blob ends too early")
        return self.data[self.pos - n:self.pos]

    def byte(self):
        return self.take(1)[0]

    def number(self):
        b = self.byte()
        return b if b < 128 else b & 127 | self.number() << 7

    def signed(self):
        return signed(self.number())

    def real(self):
        m, e = self.signed(), self.signed()
        return self.take(8) if (m, e) == (0, 1) else struct.pack("<d", float("%de%d" % (m, e)))

    def text(self):
        return self.take(self.number())

class Bits(Bytes):
    """The stream of a column; pos counts bits. What stands in it is read as u and whether it was escaped."""

    def ahead(self):  # at least 128 bits, zeros behind the end
        return int.from_bytes(self.data[self.pos >> 3:(self.pos >> 3) + 17], "little") >> (self.pos & 7)

    def rice(self, k):
        w = self.ahead()
        if w & 0xFFFFFF == 0:
            self.pos += 24 + 64
            return w >> 24 & M64, True
        q = (w & -w).bit_length() - 1
        self.pos += q + 1 + k
        return (q << k) + (w >> q + 1 & (1 << k) - 1), False

    def bounded(self, d):
        w, b = self.ahead(), d.bit_length() - 1
        c, v = (2 << b) - d, w & (1 << b) - 1
        if v >= c:
            v, b = 2 * v + (w >> b & 1) - c, b + 1
        escaped = v == d - 1
        self.pos += b + 64 * escaped
        return w >> b & M64 if escaped else v, escaped

    def runs(self, g, k, events):
        for _ in range(events):
            yield from itertools.repeat((0, False), self.rice(g)[0])
            u, escaped = self.rice(k)
            yield u + 1, escaped
        yield from itertools.repeat((0, False))

def column(b, n):
    if n == 0:
        return []
    code = b.byte()
    if code == 0:
        x, step = b.signed(), b.signed()
        return [i64(x + i * step) for i in range(n)]
    how, unit, base, step = b.byte(), b.number(), b.signed(), b.signed()
    params = [read() for read in {1: [b.byte], 2: [b.byte, b.byte, b.number], 3: [b.number]}[code]]
    bits = Bits(b.text())
    us = bits.runs(*params) if code == 2 else map(bits.rice if code == 1 else bits.bounded, itertools.repeat(*params))
    xs, p, shift, frac = [], 0, how & 15, how >> 4
    for u, escaped in itertools.islice(us, n):
        y = i64((i64(p + (1 << frac >> 1)) >> frac) + signed(u))
        xs.append(i64(base + unit * y))
        missed = i64((y << frac) - p)
        p = i64(p + step + (missed if escaped else 0 if shift == 15 else missed >> shift))
    need((bits.pos + 7) // 8 == len(bits.data) and bits.ahead() == 0, "a stream is not as long as its numbers")
    return xs

def form(b):
    flags, resolution, span, kind = b.number(), b.real(), b.real(), b.byte()
    if not kind & 1:
        return Form(flags, resolution, span, kind, lambda digits, text=b.text(): (text, bytes(8)))
    (sign, whole, places, point), suffix = b.take(4), b.text()

    def spell(digits):
        lead = b"-" if digits < 0 or sign == 2 else b"+" * sign
        figures = (b"%d" % abs(digits) if digits else b"").rjust(whole + places, b"0")
        cut = len(figures) - places
        value = float("%de%d" % (digits, int(suffix[1:] or 0) - places))
        return lead + figures[:cut] + b"." * point + figures[cut:] + suffix, struct.pack("<d", value)
    return Form(flags, resolution, span, kind, spell)

def block(data):
    """The rows of a block."""
    b, of_form = Bytes(data), []
    need(b.byte() == 1, "a block is of another version")
    n = b.number()
    need(1 <= n <= 65535, "a block of no rows or too many")
    at, tie, forms = column(b, n), column(b, n), [form(b) for _ in range(b.number())]
    which = column(b, n) if len(forms) > 1 else [0] * n
    count = collections.Counter(which)
    for i, f in enumerate(forms):
        of_form.append(zip(*(column(b, count[i]) if f.kind & bit else [0] * count[i] for bit in (1, 2))))
    rows = []
    for t, rank, i, half, lag, ordinal in zip(at, tie, which, column(b, n), column(b, n), column(b, n)):
        f, (digits, explicit) = forms[i], next(of_form[i])
        text, value = f.spell(digits)
        if f.kind & 2:
            value = struct.pack("<q", explicit ^ (explicit >> 63 & M64 >> 1))
        measured = i64(t - lag - half // 1000)
        rows.append(Row(t, rank, value, text, f.resolution, f.range, f.flags, measured, half, ordinal & M64))
    need(not b.more(), "a block is longer than its rows")
    return rows

def plain(row, show_text):
    """The row without at and tie, to print: its floats as 16 hexadecimal digits."""
    value, text, resolution, span, *ints = row[2:]
    return [value[::-1].hex(), show_text(text), resolution[::-1].hex(), span[::-1].hex(), *ints]

if __name__ == "__main__":
    for line in sys.stdin:
        print(json.dumps([[str(x) for x in (r.at, r.tie, *plain(r, bytes.hex))] for r in block(bytes.fromhex(line))]))
