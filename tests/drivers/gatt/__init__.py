"""Tests of Bluetooth LE input.

What they prove: the shipped driver and the real, unmodified bleak with its
BlueZ backend find, connect, subscribe, receive, lose and find again a device,
and turn every failure into a sentence. What they run against is an imitation
of BlueZ's interface on a private D-Bus bus (bluez_service.py), written from
what bleak asks for. It is not a radio and not bluetoothd: range, interference,
batching of packets, pairing, caching of services and disagreements between
bleak and the real service are not tested here.

They need dbus-daemon (Debian package ``dbus``) and fail without it.
"""
