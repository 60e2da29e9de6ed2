"""An independent far end: a VXI-11 instrument and its port mapper, with the
calls and the encoding of a general-purpose bus library.

Prints the two ports, then serves one connection after another on each. Every
call's arguments must be there to the byte: the library refuses others.
"""
import socket
import struct
import sys
import threading
import time

from pyvisa_py.protocols import rpc, vxi11


def exactly(sock, n):
    data = b""
    while len(data) < n:
        part = sock.recv(n - len(data))
        if not part:
            raise EOFError
        data += part
    return data


def serve(listener, program):
    while True:
        sock, _ = listener.accept()
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        try:
            while True:
                record, last = b"", False
                while not last:
                    (mark,) = struct.unpack(">I", exactly(sock, 4))
                    last = bool(mark & 0x80000000)
                    record += exactly(sock, mark & 0x7FFFFFFF)
                answer = program.handle(record)
                # In fragments of seven bytes: a client has to put them together.
                for at in range(0, len(answer), 7):
                    part = answer[at : at + 7]
                    end = 0x80000000 if at + 7 >= len(answer) else 0
                    sock.sendall(struct.pack(">I", end | len(part)) + part)
        except (EOFError, OSError):
            sock.close()


class Bare(rpc.Server):
    def addpackers(self):
        self.packer = vxi11.Vxi11Packer()
        self.unpacker = vxi11.Vxi11Unpacker(b"")


class PortMapper(Bare):
    def handle_3(self):
        program, version, protocol, _ = (self.unpacker.unpack_uint() for _ in range(4))
        self.turn_around()
        known = (program, version, protocol) == (vxi11.DEVICE_CORE_PROG, vxi11.DEVICE_CORE_VERS, 6)
        self.packer.pack_uint(core_port if known else 0)


class Instrument(Bare):
    request, answer, seen = b"", b"", []

    def handle_10(self):  # create_link
        u = self.unpacker
        _, lock, _, name = u.unpack_int(), u.unpack_bool(), u.unpack_uint(), u.unpack_string()
        self.turn_around()
        for v in (0 if name == b"gpib0,22" and not lock else vxi11.ErrorCodes.device_not_accessible, 77):
            self.packer.pack_int(v)
        self.packer.pack_uint(0)
        self.packer.pack_uint(5)  # bytes it takes in one write

    def handle_11(self):  # device_write
        u = self.unpacker
        link, _, _, flags, data = u.unpack_int(), u.unpack_uint(), u.unpack_uint(), u.unpack_int(), u.unpack_opaque()
        self.turn_around()
        self.request += data
        if flags & vxi11.OP_FLAG_END:
            self.answer = self.reply_to(self.request.decode().rstrip("\n"))
            self.request = b""
        self.packer.pack_int(0 if link == 77 and len(data) <= 5 else vxi11.ErrorCodes.parameter_error)
        self.packer.pack_uint(len(data))

    def reply_to(self, request):
        if request == "SLOW?":
            time.sleep(0.6)  # longer than the client waits for an answer
            return b"slow"
        if request == "MUTE?":
            return b""
        return ("answer to " + request + "\n").encode() if request.endswith("?") else b""

    def handle_12(self):  # device_read
        u = self.unpacker
        _, size, wait, _, flags, _ = u.unpack_int(), u.unpack_uint(), u.unpack_uint(), u.unpack_uint(), u.unpack_int(), u.unpack_int()
        self.turn_around()
        if not self.answer or flags:
            time.sleep(wait / 1000)
            self.packer.pack_int(vxi11.ErrorCodes.io_timeout)
            self.packer.pack_int(0)
            self.packer.pack_opaque(b"")
            return
        data, self.answer = self.answer[: min(size, 4)], self.answer[min(size, 4) :]
        self.packer.pack_int(0)
        self.packer.pack_int(0 if self.answer else vxi11.RX_END)
        self.packer.pack_opaque(data)

    def handle_15(self):  # device_clear
        for _ in range(4):
            self.unpacker.unpack_int()
        self.turn_around()
        self.request = self.answer = b""
        self.packer.pack_int(0)

    def handle_23(self):  # destroy_link
        link = self.unpacker.unpack_int()
        self.turn_around()
        print("left" if link == 77 else "left another link", flush=True)
        self.packer.pack_int(0)


def listen():
    s = socket.socket()
    s.bind(("127.0.0.1", 0))
    s.listen(5)
    return s, s.getsockname()[1]


core, core_port = listen()
mapper, mapper_port = listen()
threading.Thread(target=serve, args=(core, Instrument("", vxi11.DEVICE_CORE_PROG, vxi11.DEVICE_CORE_VERS, 0)), daemon=True).start()
threading.Thread(target=serve, args=(mapper, PortMapper("", 100000, 2, 0)), daemon=True).start()
print(core_port, mapper_port, flush=True)
sys.stdin.read()  # until the test is over
