"""An imitation of BlueZ on a private D-Bus bus, run as a process of its own. It is no radio.

It answers as bluetoothd does as far as bleak asks: adapter, devices, services,
characteristics, notifications (org.bluez interfaces as BlueZ documents them in
its doc/ folder). It was written from bleak's needs, so it can't find where
bleak and the real bluetoothd disagree, and nothing here says how radio
behaves: range, jitter, batching of packets, pairing.

``python bluez_service.py BUS-ADDRESS ADAPTER`` with ADAPTER one of on, off,
none, classic. It is told what to do by calls of ``spinvolt.Rig.Do`` with a
JSON object, on the same bus; :mod:`tests.drivers.gatt.rig` has the words.
"""

from __future__ import annotations

import asyncio
import json
import sys
from typing import Any

from dbus_fast import Message, MessageType, RequestNameReply, Variant
from dbus_fast.aio import MessageBus

ADAPTER = "/org/bluez/hci0"
DEVICE = "org.bluez.Device1"
SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
STEP_S = 0.01
"""How long everything takes that takes time on a radio."""

Properties = dict[str, Variant]


class Stream:
    """What a characteristic sends, and how fast."""

    def __init__(self, spec: dict[str, Any]) -> None:
        self.rate = float(spec.get("rate", 10.0))
        self.is_only_read = "notify" not in spec.get("flags", ["notify"])
        self.silent = False
        self.sent = 0
        self._values = [bytes.fromhex(value) for value in spec.get("values", [])]
        self._csc_rpm = spec.get("csc_rpm")

    def next_value(self, elapsed_s: float) -> bytes:
        n, self.sent = self.sent, self.sent + 1
        if self._values:
            return self._values[n % len(self._values)]
        if self._csc_rpm is not None:
            return csc_packet(float(self._csc_rpm), elapsed_s)
        return n.to_bytes(4, "little")


def csc_packet(rpm: float, elapsed_s: float) -> bytes:
    """Wheel data of a shaft that turns steadily: the newest whole turn and its time. Not far from both wraps."""
    turns = int(rpm / 60.0 * elapsed_s)
    ticks = round(turns * 60.0 / rpm * 1024.0)
    return (
        b"\x01"
        + ((0xFFFF_FFF0 + turns) % 2**32).to_bytes(4, "little")
        + ((64_000 + ticks) % 65_536).to_bytes(2, "little")
    )


class Bluez:
    """The service's whole state; objects by path, as GetManagedObjects gives them."""

    def __init__(self, bus: MessageBus, adapter: str) -> None:
        self.bus = bus
        self.objects: dict[str, dict[str, Properties]] = {}
        self.devices: dict[str, dict[str, Any]] = {}
        self.streams: dict[str, Stream] = {}
        self.tasks: dict[str, asyncio.Task[None]] = {}
        self.counts: dict[str, int] = {}
        self.faults: dict[str, list[str]] = {}
        self.hanging: dict[str, Message] = {}
        if adapter != "none":
            roles = ["peripheral"] if adapter == "classic" else ["central", "peripheral"]
            self.objects[ADAPTER] = {
                "org.bluez.Adapter1": {
                    "Powered": Variant("b", adapter != "off"),
                    "Roles": Variant("as", roles),
                }
            }

    # What bleak calls

    def handle(self, message: Message) -> Message | bool | None:
        """Answer a call, at once or, where it takes time, later."""
        if message.message_type is not MessageType.METHOD_CALL or message.member is None:
            return None
        member = message.member
        self.counts[member] = self.counts.get(member, 0) + 1
        if message.interface == "spinvolt.Rig":
            answer = self.control(json.loads(message.body[0]))
            return Message.new_method_return(message, "s", [json.dumps(answer)])
        if member in self.faults:
            return Message.new_error(message, *self.faults[member])
        if member == "GetManagedObjects":
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [self.objects])
        if message.path not in self.objects:
            return Message.new_error(
                message, "org.freedesktop.DBus.Error.UnknownObject", f"no {message.path}"
            )
        later = {"Connect": self.connect, "Disconnect": self.disconnect, "StartDiscovery": self.discover}.get(
            member
        )
        if later is not None:
            self.start(f"{member} {message.path}", later(message))
            return True
        return self.at_once(message)

    def at_once(self, message: Message) -> Message:
        path = message.path or ""
        if message.member == "ReadValue":
            stream = self.streams.get(path)
            if stream is not None and stream.is_only_read:
                if stream.silent:
                    return Message.new_error(
                        message, "org.bluez.Error.Failed", "Operation failed with ATT error: 0x0e"
                    )
                return Message.new_method_return(message, "ay", [stream.next_value(0.0)])
            properties = next(p for i, p in self.objects[path].items() if i in (CHARACTERISTIC, DESCRIPTOR))
            return Message.new_method_return(message, "ay", [properties["Value"].value])
        if message.member == "StartNotify":
            self.start(f"notify {path}", self.notify(path))
        if message.member == "StopNotify":
            self.stop(f"notify {path}")
        return Message.new_method_return(message)

    async def discover(self, message: Message) -> None:
        self.reply(message)
        await asyncio.sleep(STEP_S)
        for path in list(self.devices):
            if path not in self.objects:
                self.add(path, DEVICE, self.device_properties(path))
            elif not self.objects[path][DEVICE]["Connected"].value:
                self.change(path, DEVICE, {"RSSI": Variant("n", -60)})

    async def connect(self, message: Message) -> None:
        path = message.path or ""
        spec = self.devices[path]
        if spec.get("hang"):
            self.hanging[path] = message
            return
        await asyncio.sleep(STEP_S)
        self.change(path, DEVICE, {"Connected": Variant("b", True)})
        self.reply(message)
        await asyncio.sleep(STEP_S)
        if spec.get("drop_early"):
            self.drop(path)
            return
        self.export_services(path, spec)
        self.change(path, DEVICE, {"ServicesResolved": Variant("b", True)})

    async def disconnect(self, message: Message) -> None:
        path = message.path or ""
        pending = self.hanging.pop(path, None)
        if pending is not None:
            self.bus.send(Message.new_error(pending, "org.bluez.Error.Failed", "le-connection-canceled"))
        self.reply(message)
        if self.devices[path].get("ignore_disconnect"):
            return
        await asyncio.sleep(STEP_S)
        self.drop(path)

    async def notify(self, path: str) -> None:
        """Send by an absolute schedule, so that a late wake-up costs no packet."""
        stream = self.streams[path]
        loop = asyncio.get_running_loop()
        start = loop.time()
        for n in range(1, 1_000_000):
            await asyncio.sleep(max(0.0, start + n / stream.rate - loop.time()))
            if not stream.silent:
                self.send_value(path, stream.next_value(loop.time() - start))

    # What it does by itself

    def device_properties(self, path: str) -> Properties:
        spec = self.devices[path]
        return {
            "Address": Variant("s", spec["address"]),
            "Alias": Variant("s", spec.get("name") or spec["address"].replace(":", "-")),
            **({"Name": Variant("s", spec["name"])} if spec.get("name") else {}),
            "Adapter": Variant("o", ADAPTER),
            "UUIDs": Variant("as", spec.get("uuids", [])),
            "RSSI": Variant("n", spec.get("rssi", -50)),
            "Connected": Variant("b", bool(spec.get("connected"))),
            "ServicesResolved": Variant("b", False),
            "Paired": Variant("b", False),
        }

    def export_services(self, device: str, spec: dict[str, Any]) -> None:
        handle = 1
        for service in spec.get("services", []):
            service_path = f"{device}/service{handle:04x}"
            self.add(
                service_path, SERVICE, {"UUID": Variant("s", service["uuid"]), "Device": Variant("o", device)}
            )
            for characteristic in service["characteristics"]:
                handle += 1
                path = f"{service_path}/char{handle:04x}"
                properties = {
                    "UUID": Variant("s", characteristic["uuid"]),
                    "Service": Variant("o", service_path),
                    "Flags": Variant("as", characteristic.get("flags", ["notify"])),
                    "Value": Variant("ay", b""),
                }
                self.streams[path] = Stream(characteristic)
                self.add(path, CHARACTERISTIC, properties)
                for uuid, value in characteristic.get("descriptors", {}).items():
                    handle += 1
                    properties = {
                        "UUID": Variant("s", uuid),
                        "Characteristic": Variant("o", path),
                        "Value": Variant("ay", bytes.fromhex(value)),
                    }
                    self.add(f"{path}/desc{handle:04x}", DESCRIPTOR, properties)
            handle += 1

    def drop(self, device: str) -> None:
        """The link ends: no more values, no more services."""
        for name in [n for n in self.tasks if n.startswith(f"notify {device}/")]:
            self.stop(name)
        if device in self.objects:
            self.change(
                device, DEVICE, {"Connected": Variant("b", False), "ServicesResolved": Variant("b", False)}
            )
        for path in [p for p in self.objects if p.startswith(f"{device}/")]:
            self.remove(path)

    def send_value(self, path: str, value: bytes) -> None:
        self.change(path, CHARACTERISTIC, {"Value": Variant("ay", value)})

    def control(self, order: dict[str, Any]) -> dict[str, Any]:
        """Do what a test asks for; the rig's words are documented there."""
        device = f"{ADAPTER}/dev_{order.get('address', '').replace(':', '_')}"
        streams = [s for p, s in self.streams.items() if p.startswith(device)]
        match order["do"]:
            case "device":
                self.devices[device] = order["device"]
                if order["device"].get("connected"):
                    self.add(device, DEVICE, self.device_properties(device))
                    self.export_services(device, order["device"])
                    self.change(device, DEVICE, {"ServicesResolved": Variant("b", True)})
            case "drop":
                self.drop(device)
            case "remove":
                self.remove(device)
                if order.get("for_good"):
                    self.devices.pop(device, None)
            case "silence":
                for stream in streams:
                    stream.silent = order["silent"]
            case "send":
                for path in [p for p in self.objects if p.startswith(device) and p in self.streams]:
                    if self.objects[path][CHARACTERISTIC]["UUID"].value == order["uuid"]:
                        self.send_value(path, bytes.fromhex(order["value"]))
            case "power":
                self.change(ADAPTER, "org.bluez.Adapter1", {"Powered": Variant("b", order["on"])})
            case "fault":
                self.faults[order["member"]] = [order["error"], order["text"]]
            case "mend":
                self.faults.clear()
        return {"counts": self.counts, "sent": sum(stream.sent for stream in streams)}

    # The bus

    def start(self, name: str, work: Any) -> None:
        self.stop(name)
        self.tasks[name] = asyncio.get_running_loop().create_task(work)

    def stop(self, name: str) -> None:
        task = self.tasks.pop(name, None)
        if task is not None:
            task.cancel()

    def reply(self, message: Message) -> None:
        self.bus.send(Message.new_method_return(message))

    def add(self, path: str, interface: str, properties: Properties) -> None:
        self.objects.setdefault(path, {})[interface] = properties
        self.signal(
            "/",
            "org.freedesktop.DBus.ObjectManager",
            "InterfacesAdded",
            "oa{sa{sv}}",
            [path, {interface: properties}],
        )

    def remove(self, path: str) -> None:
        interfaces = list(self.objects.pop(path, {}))
        self.signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesRemoved", "oas", [path, interfaces])

    def change(self, path: str, interface: str, changed: Properties) -> None:
        self.objects[path][interface].update(changed)
        body = [interface, changed, []]
        self.signal(path, "org.freedesktop.DBus.Properties", "PropertiesChanged", "sa{sv}as", body)

    def signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        self.bus.send(Message.new_signal(path, interface, member, signature, body))


async def serve(address: str, adapter: str) -> None:
    """Claim org.bluez and serve until the bus or this process ends."""
    # Any: dbus-fast leaves wait_for_disconnect without types.
    bus: Any = await MessageBus(bus_address=address).connect()
    bus.add_message_handler(Bluez(bus, adapter).handle)
    if await bus.request_name("org.bluez") is not RequestNameReply.PRIMARY_OWNER:
        raise SystemExit("org.bluez is taken")
    print("ready", flush=True)
    await bus.wait_for_disconnect()


if __name__ == "__main__":
    asyncio.run(serve(sys.argv[1], sys.argv[2]))
