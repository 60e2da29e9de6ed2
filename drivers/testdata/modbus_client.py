"""An independent Modbus client for tests of our simulated units.

Started with "tcp" HOST PORT or "rtu" PATH. It reads and writes and prints what
came as one JSON object.
"""
import json
import sys

from pymodbus.client import ModbusSerialClient, ModbusTcpClient

if sys.argv[1] == "tcp":
    client = ModbusTcpClient(sys.argv[2], port=int(sys.argv[3]), timeout=3)
else:
    client = ModbusSerialClient(sys.argv[2], baudrate=9600, timeout=3)
if not client.connect():
    sys.exit("cannot connect")


def registers(answer):
    return [] if answer.isError() else list(answer.registers)


out = {}
out["model"] = registers(client.read_holding_registers(0, 4, slave=1))
out["serial"] = registers(client.read_holding_registers(4, 2, slave=1))
out["wrote"] = not client.write_registers(33, [12000, 500, 1400], slave=1).isError()
out["set"] = registers(client.read_holding_registers(33, 3, slave=1))
out["one"] = not client.write_register(33, 12500, slave=1).isError()
out["on"] = not client.write_coil(0, True, slave=1).isError()
out["coil"] = list(client.read_coils(0, 1, slave=1).bits)[:1]
out["output"] = registers(client.read_holding_registers(32, 1, slave=1))
out["off"] = not client.write_register(32, 0, slave=1).isError()
out["meter"] = registers(client.read_input_registers(0, 2, slave=2))
out["text"] = registers(client.read_holding_registers(104, 4, slave=3))
nowhere = client.read_holding_registers(900, 1, slave=1)
out["nowhere"] = getattr(nowhere, "exception_code", 0)
toomuch = client.write_register(33, 40000, slave=1)
out["too much"] = getattr(toomuch, "exception_code", 0)
client.close()
print(json.dumps(out))
