"""Decodes every reading of a steadyrail job file, from the texts "format" and "block" in that file, in their words.

    python3 readings.py FILE    a line of JSON for each reading, channel by channel, floats and texts in hexadecimal

A float stays the 8 bytes that it is and a text its bytes. chain.py proves, with this, that nothing was changed."""
import collections, itertools, json, os, pathlib, sqlite3, struct, sys

Row = collections.namedtuple("Row", "at tie value text resolution range flags measured half_width ordinal")
M64 = (1 << 64) - 1

def need(true, say):
    if not true:
        raise ValueError(say)

def i64(x):  # wrapped around to 64 bits in two's complement
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
    def real(self):
        m, e = signed(self.number()), signed(self.number())
        return self.take(8) if (m, e) == (0, 1) else struct.pack("<d", float("%de%d" % (m, e)))
    def text(self):
        return self.take(self.number())

class Bits(Bytes):
    """The stream of a column; pos counts bits. What stands in it is read as u and whether it was escaped."""
    def ahead(self):  # at least 128 bits, zeros behind the end
        return int.from_bytes(self.data[self.pos >> 3:(self.pos >> 3) + 17], "little") >> (self.pos & 7)
    def rice(self, k):
        w = self.ahead()
        q = (w & -w).bit_length() - 1
        if w & 0xFFFFFF == 0:
            self.pos += 24 + 64
            return w >> 24 & M64, True
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
        return list(map(i64, itertools.islice(itertools.count(signed(b.number()), signed(b.number())), n)))
    how, unit, base, step = b.byte(), b.number(), signed(b.number()), signed(b.number())
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
    """kind, how digits and an explicit value are spelled (value, text), and what the rows of the form share."""
    flags, shared, kind = b.number(), (b.real(), b.real()), b.byte()
    layout, text = b.take(4) if kind & 1 else None, b.text()

    def spell(digits, explicit):
        value = explicit ^ (explicit >> 63 & M64 >> 1)
        if layout is None:
            return struct.pack("<q", value), text
        sign, whole, places, point = layout
        lead = b"-" if digits < 0 or sign == 2 else b"+" * sign
        figures = (b"%d" % abs(digits) if digits else b"").rjust(whole + places, b"0")
        cut, number = len(figures) - places, float("%de%d" % (digits, int(text[1:] or 0) - places))
        packed = struct.pack("<q", value) if kind & 2 else struct.pack("<d", number)
        return packed, lead + figures[:cut] + b"." * point + figures[cut:] + text
    return kind, spell, (*shared, flags)

def block(data):
    b = Bytes(data)
    version, n = b.byte(), b.number()
    need(version == 1 and 1 <= n <= 65535, "a block of another version, of no rows or of too many")
    at, tie, forms = column(b, n), column(b, n), [form(b) for _ in range(b.number())]
    which = column(b, n) if len(forms) > 1 else [0] * n
    count = collections.Counter(which)
    of = [zip(*(column(b, count[i]) if f[0] & bit else [0] * count[i] for bit in (1, 2))) for i, f in enumerate(forms)]
    rows = [Row(t, rank, *forms[i][1](*next(of[i])), *forms[i][2], i64(t - lag - half // 1000), half, ordinal & M64)
            for t, rank, i, half, lag, ordinal in zip(at, tie, which, column(b, n), column(b, n), column(b, n))]
    need(not b.more(), "a block is longer than its rows")
    return rows

def channels(db):
    """The rows of each channel, out of the tables block, rest and tail."""
    rows = collections.defaultdict(list)
    tails = (Bytes(data) for data, in db.execute("SELECT data FROM tail ORDER BY n"))
    chunks = ((b.number(), b.number(), b.text()) for b in tails for _ in iter(b.more, False))
    for id, base, data in itertools.chain(db.execute("SELECT id >> 32, NULL, data FROM block ORDER BY id"),
                                          db.execute("SELECT channel, base, data FROM rest"), chunks):
        have, new = rows[id], block(data)
        base = len(have) if base is None else base
        told = base <= len(have) and have[base:base + len(new)] == new[:len(have) - base]
        need(told, "channel %d: readings from %d on are missing or told in two ways" % (id, min(base, len(have))))
        have += new[len(have) - base:]
    return rows

def opened(path):
    """The file as a database, to be read only."""
    path = pathlib.Path(path).resolve()
    closed = not any(os.path.exists(str(path) + more) for more in ("-wal", "-journal"))  # then nobody writes
    db = sqlite3.connect(path.as_uri() + "?mode=ro" + "&immutable=1" * closed, uri=True)
    db.text_factory = bytes
    marks = [db.execute("PRAGMA " + name).fetchone()[0] for name in ("application_id", "user_version")]
    need(marks == [0x5352414C, 4], "not format 4")
    return db

def plain(row, show_text=bytes.hex):
    """The row to print, its floats as 16 hexadecimal digits."""
    value, resolution, span = (x[::-1].hex() for x in (row.value, row.resolution, row.range))
    return [row.at, row.tie, value, show_text(row.text), resolution, span, *row[6:]]

if __name__ == "__main__":
    for id, rows in channels(opened(sys.argv[1])).items():
        print(*(json.dumps([id, *plain(row)]) for row in rows), sep="\n")
