"""An independent Modbus server for tests of our driver.

Started with "tcp" or with the path of a terminal (RTU). It holds three blocks
of registers with known contents and answers until standard input ends.
"""
import asyncio
import os
import sys
import threading

from pymodbus.datastore import (
    ModbusSequentialDataBlock,
    ModbusServerContext,
    ModbusSlaveContext,
)
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer


def unit(text, holding):
    """A unit with a text at 0, and registers from 16 on."""
    words = [ord(a) << 8 | ord(b) for a, b in zip(text[::2], text[1::2])]
    registers = words + [0] * (16 - len(words)) + holding + [0] * 40
    return ModbusSlaveContext(
        hr=ModbusSequentialDataBlock(0, registers),
        ir=ModbusSequentialDataBlock(0, [0xFFFF, 0xFFFE, 0x9A51, 0x409D]),
        co=ModbusSequentialDataBlock(0, [False] * 8),
        di=ModbusSequentialDataBlock(0, [False] * 8),
        zero_mode=True,
    )


async def serve():
    """Serve two units until standard input ends."""
    units = ModbusServerContext(
        slaves={1: unit("PSU-1\0", [501, 250]), 17: unit("PSU-17", [1203, 750])},
        single=False,
    )
    if sys.argv[1] == "tcp":
        server = ModbusTcpServer(units, framer=ModbusSocketFramer, address=("127.0.0.1", 0))
        task = asyncio.ensure_future(server.serve_forever())
        await server.serving
        print(server.server.sockets[0].getsockname()[1], flush=True)
    else:
        server = ModbusSerialServer(units, framer=ModbusRtuFramer, port=sys.argv[1], baudrate=9600, ignore_missing_slaves=True)
        await server.start()
        task = asyncio.ensure_future(server.serve_forever())
        print("ready", flush=True)
    await task


def leave():
    sys.stdin.read()
    os._exit(0)


threading.Thread(target=leave, daemon=True).start()
asyncio.run(serve())
