"""Reads a steadyrail job file: the text "format" that each of them carries in table spec, put into Python.

    python3 chain.py FILE     checks the file and prints its log as JSON lines, at last the head of its chain

Written from that text and nothing else, in its words; readings.py decodes the readings. When something does not match
it says what on stderr and ends with status 1. The file is not written to."""
import collections, functools, hashlib, itertools, json, math, sqlite3, struct, sys

from readings import Bytes, channels, i64, need, opened, plain

NAN = bytes.fromhex("010000000000f87f")
KINDS = {1: "reading", 2: "item", 3: "transition"}

def sha256(*parts):
    return hashlib.sha256(b"".join(parts)).digest()

def words(b):
    """A text, to print; bytes that are not UTF-8 become \\udc80 to \\udcff."""
    return b.decode("utf8", "surrogateescape")

def ints(*xs):
    return struct.pack("<%dq" % len(xs), *xs)

def string(b):
    return struct.pack("<I", len(b)) + b

def uvarint(x):
    return bytes([x]) if x < 128 else bytes([x & 127 | 128]) + uvarint(x >> 7)

def number(row):
    return struct.unpack("<d", row.value)[0]

def brief(base, rows, j):
    """The row of table brief for the rows of a block, in cells of 2^j seconds."""
    width = 1000000 << j
    data, before = bytes([j]), rows[0].at // width
    for cell, group in itertools.groupby(rows, lambda row: row.at // width):
        group = list(group)
        good = [row for row in group if row.flags & 255 == 0 and not math.isnan(number(row))]
        data += uvarint(cell - before) + uvarint(len(good)) + uvarint(len(group) - len(good))
        if good:
            values = [number(row) for row in good]
            total = functools.reduce(float.__add__, values, 0.0)
            ranked = sorted(values, key=lambda v: (v, math.copysign(1, v)))  # -0 is less than 0
            data += uvarint(good[-1].at - cell * width) + struct.pack("<2d", ranked[0], ranked[-1])
            data += (NAN if math.isnan(total) else struct.pack("<d", total)) + good[-1].value
        before = cell
    return base, len(rows), rows[0].at, rows[-1].at, data

def sum_up(db, rows):
    """Checks that each row of table brief sums up its block."""
    bases = collections.Counter()
    for id, data in db.execute("SELECT id, data FROM block ORDER BY id"):
        b, base = Bytes(data[1:]), bases[id >> 32]
        n = b.number()
        bases[id >> 32] += n
        told = db.execute("SELECT base, n, first_at, last_at, data FROM brief WHERE id = ?", [id]).fetchone()
        need(told and told[4] and told == brief(base, rows[id >> 32][base:base + n], told[4][0]),
             "brief %d does not sum up its block" % id)

def log(db):
    """The records in order of seq: at, tie (None if no reading), kind, B behind at, and what to print of it."""
    rows, readings, others = channels(db), [], {}
    sum_up(db, rows)
    for id, name, quantity in db.execute("SELECT id, name, quantity FROM channel"):
        for row in rows.pop(id, []):
            at, tie, *r = row
            body = (string(name) + string(quantity) + r[0] + string(r[1]) + r[2] + r[3] + struct.pack("<I", r[4])
                    + ints(r[5], r[6], i64(r[7])))
            readings.append((at, tie, 1, body, [words(name), words(quantity), *plain(row, words)[2:]]))
    need(not rows, "there are readings of channels that table channel does not have")
    for kind, query in (2, "SELECT seq, at, kind, body FROM item"), (3, "SELECT seq, at, body FROM transition"):
        for seq, at, *texts in db.execute(query):
            need(seq not in others, "two records have seq %d" % seq)
            others[seq] = at, None, kind, b"".join(map(string, texts)), list(map(words, texts))
    remain, total = iter(sorted(readings, key=lambda r: r[:2])), len(readings) + len(others)
    need(all(1 <= seq <= total for seq in others), "the log has a hole")
    return [others.get(seq) or next(remain) for seq in range(1, total + 1)]

def commits(db):
    """n, rule, first, last, upto, ties, hash or its first 4 bytes, and the tree, if there is one, of each commit."""
    n = last = upto = 0
    for *row, hash, tree, data in db.execute("SELECT n, rule, last, upto, ties, hash, tree, data FROM fold ORDER BY n"):
        b = Bytes(data)
        while b.more():
            n, first, last, upto, ties, mark = n + 1, last + 1, last + b.number(), upto + b.number(), b.number(), b.take(4)
            yield n, row[1], first, last, upto, ties, *((mark, None) if b.more() else (hash, tree))
        need([*row, hash[:4]] == [n, row[1], last, upto, ties, mark], "row %d of fold does not end as its data" % row[0])
    yield from db.execute("SELECT n, rule, first, last, upto, ties, hash, NULL FROM tail ORDER BY n")

def grow(roots, leaf):
    """Adds a leaf to the complete subtrees, the largest first: how many leaves each has, and its root."""
    n = 1
    while roots and roots[-1][0] == n:
        n, leaf = 2 * n, sha256(b"\1", roots.pop()[1], leaf)
    roots.append((n, leaf))

def check(db):
    """Prints the log along its chain, and the head: how many records, the instant of the last, hash."""
    records, roots, chain, seq, at, same = log(db), [], bytes(32), 0, -1 << 63, 0
    stamps = db.execute("SELECT n, head FROM stamp").fetchall()
    for number, (n, rule, first, last, upto, ties, hash, tree) in enumerate(commits(db), 1):
        need(n == number and first == seq + 1 and last <= len(records), "commit %d is not where it says" % n)
        head, written = ints(n, first, last, upto), []
        for seq, (now, tie, kind, body, say) in enumerate(records[seq:last], first):
            need(at <= now <= upto and tie in (None, same * (at == now)), "record %d has the wrong instant or tie" % seq)
            at, same = now, same * (at == now) + 1
            written.append(bytes([kind]) + string(ints(seq, at) + body))
            print(json.dumps([KINDS[kind], seq, at, *say]))
        need(ties == same * (at == upto), "commit %d: %d ties, not %d" % (n, same * (at == upto), ties))
        need(rule in (1, 2, 3), "there is no rule %d for commit %d" % (rule, n))
        run = 16 if rule == 3 else 1
        for i in range(0, len(written), run):
            grow(roots, sha256(b"\0", *written[i:i + run]))
        leaves = ints(sum(n for n, _ in roots))
        if rule == 1:
            content = head + b"".join(written)
            chain = sha256(b"\0", chain, ints(len(content)), content)
        else:
            parts = [root for _, root in reversed(roots)] or [sha256()]
            top = functools.reduce(lambda right, left: sha256(b"\1", left, right), parts)
            chain = sha256(b"\3", chain, top, leaves, head) if rule == 3 else sha256(b"\2", chain, top, head)
        need(hash == chain[:len(hash)] and len(hash) in (4, 32), "the chain breaks at commit %d or before it" % n)
        need(all(told == chain for of, told in stamps if of == n), "a time-stamp is not about commit %d" % n)
        need(tree in (None, leaves + b"".join(root for _, root in roots)), "commit %d has another tree" % n)
    need(seq == len(records), "%d records are in no commit" % (len(records) - seq))
    print(json.dumps(["head", seq, at if seq else 0, chain.hex()]))

def main(path):
    db = opened(path)
    need(all(sha256(d) == h for h, d in db.execute("SELECT hash, data FROM enclosure")), "an enclosure is not what its hash says")
    check(db)

if __name__ == "__main__":
    try:
        main(sys.argv[1])
    except (ValueError, LookupError, StopIteration, RecursionError, struct.error, sqlite3.Error) as wrong:
        sys.exit("%s: %s: %s" % (sys.argv[1], type(wrong).__name__, wrong))
