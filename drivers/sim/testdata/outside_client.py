"""An independent client: talks to instruments with a general-purpose bus
library, and prints what they answer.

Arguments: kind=where pairs, kind one of socket, serial, vxi11, hislip.
Prints one JSON object a line: {"kind": ..., "idn": ..., "reading": ..., "long": ...},
or {"kind": ..., "missing": why} where the library has no such transport.
"""
import json
import sys

import pyvisa
from pyvisa.constants import VI_ATTR_TERMCHAR_EN  # noqa: F401  fails early if the library is another one


def resource(kind, where):
    """The library's name for a place."""
    if kind == "serial":
        return "ASRL%s::INSTR" % where
    host, port = where.split("/")[0].rsplit(":", 1)
    if kind == "socket":
        return "TCPIP0::%s::%s::SOCKET" % (host, port)
    if kind == "hislip":
        return "TCPIP0::%s::hislip0,%s::INSTR" % (host, port)
    if kind == "vxi11":
        # The library looks a port mapper up at its well-known port, which needs
        # rights; ours is on the instrument's own.
        from pyvisa_py.protocols import rpc

        rpc.PMAP_PORT = int(port)
        return "TCPIP0::%s::inst0::INSTR" % host
    raise SystemExit("no kind " + kind)


def talk(manager, kind, where):
    if kind == "hislip":
        try:
            from pyvisa_py.protocols import hislip  # noqa: F401
        except ImportError:
            return {"missing": "this version of the library has no HiSLIP"}
    it = manager.open_resource(resource(kind, where))
    try:
        it.timeout = 5000
        if kind in ("socket", "serial"):
            it.read_termination = it.write_termination = "\n"
        said = {}
        said["idn"] = it.query("*IDN?").strip()
        it.write("CONF:VOLT:DC 10")
        said["reading"] = it.query("READ?").strip()
        if kind == "vxi11":
            it.write("*IDN?")
            it.clear()  # the answer is never fetched
        if kind == "hislip":
            # With nothing on its way: version 0.7.2 takes an answer that was sent
            # before the clear for the clear's own (IVI-6.1, 6.12 has it dropped).
            it.clear()
        said["again"] = it.query("*IDN?").strip()
        said["error"] = it.query("SYST:ERR?").strip()
        return said
    finally:
        it.close()


def main():
    manager = pyvisa.ResourceManager("@py")
    for pair in sys.argv[1:]:
        kind, where = pair.split("=", 1)
        answer = talk(manager, kind, where)
        answer["kind"] = kind
        print(json.dumps(answer), flush=True)


main()
