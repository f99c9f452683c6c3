"""Those who come to the panel and to the control socket, well-behaved and not."""
import base64
import json
import os
import socket
import struct
import subprocess

from masters import reset

PATHS = ["/", "/class", "/healthz", "/metrics", "/api/openapi.json", "/api/bench", "/api/state", "/api/journal",
         "/api/traffic", "/api/traffic?limit=500", "/api/review", "/api/waves/kiln-top", "/api/trend?seconds=60",
         "/api/trend.csv?seconds=30", "/api/capture.pcapng", "/api/state?view=class", "/api/nowhere", "/../x"]


def connect(port):
    return socket.create_connection(("127.0.0.1", port), 5)


def ask(connection, port, path, method="GET", body=None):
    text = f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
    if body is not None:
        text += f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n"
    connection.sendall((text + "\r\n").encode() + (body or b""))


def read_answer(connection):
    """The status of one answer, its body read to the end; 0 if it broke off."""
    data = b""
    while b"\r\n\r\n" not in data:
        piece = connection.recv(65536)
        if not piece:
            return 0
        data += piece
    head, rest = data.split(b"\r\n\r\n", 1)
    status = int(head.split(b" ", 2)[1])
    fields = {line.split(b":")[0].strip().lower(): line.split(b":", 1)[1].strip() for line in head.split(b"\r\n")[1:]}
    if b"content-length" in fields:
        left = int(fields[b"content-length"]) - len(rest)
        while left > 0:
            piece = connection.recv(65536)
            if not piece:
                return 0
            left -= len(piece)
    else:  # chunked
        while not rest.endswith(b"0\r\n\r\n"):
            piece = connection.recv(65536)
            if not piece:
                return 0
            rest = rest[-8:] + piece
    return status


def websocket_text(text):
    """A text frame as clients send it, masked (RFC 6455, 5.2)."""
    data, mask = text.encode(), os.urandom(4)
    head = bytes([0x81, 0x80 | len(data)]) if len(data) < 126 else b"\x81\xfe" + struct.pack(">H", len(data))
    return head + mask + bytes(byte ^ mask[i % 4] for i, byte in enumerate(data))


def watch_live(port, rng, stop, count):
    connection = connect(port)
    try:
        key = base64.b64encode(rng.randbytes(16)).decode()
        connection.sendall((f"GET /api/live{rng.choice(['', '?view=class'])} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
                            "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n"
                            f"Sec-WebSocket-Key: {key}\r\n\r\n").encode())
        connection.settimeout(2)
        if b" 101 " not in connection.recv(4096):
            return
        wish = {"rate": rng.choice([1, 4, 10]), "state": True, "journal_after": 0, "traffic": rng.random() < 0.7}
        connection.sendall(websocket_text(json.dumps(wish)))
        manner = rng.choice(["reads", "reads", "reads", "never reads", "talks", "nonsense"])
        count["live: " + manner] += 1
        for _ in range(rng.randint(1, 40)):
            if stop.is_set():
                break
            if manner == "never reads":
                stop.wait(0.25)
                continue
            if manner == "talks":
                connection.sendall(websocket_text(json.dumps({"rate": rng.choice([0.5, 2]), "state": False})))
            if manner == "nonsense":
                connection.sendall(rng.choice([websocket_text("{"), rng.randbytes(20)]))
            if not connection.recv(65536):
                break
        if rng.random() < 0.4:
            connection.sendall(b"\x88\x80\0\0\0\0")  # closing, masked with zeros
    except OSError:
        pass
    finally:
        (reset if rng.random() < 0.3 else socket.socket.close)(connection)


def panel_visit(port, rng, stop, count, actions):
    """One visitor of the panel; `actions` gives a line that may be done to the bench."""
    count["panel clients"] += 1
    manner = rng.choice(["pages", "pages", "live", "live", "half", "slow", "garbage", "acts", "leaves"])
    count["panel: " + manner] += 1
    if manner == "live":
        return watch_live(port, rng, stop, count)
    connection = connect(port)
    try:
        connection.settimeout(5)
        if manner == "pages":
            for _ in range(rng.randint(1, 12)):
                ask(connection, port, rng.choice(PATHS))
                count["panel answers"] += read_answer(connection) != 0
        elif manner == "acts":
            action, _ = actions()
            ask(connection, port, "/api/actions", "POST", json.dumps({"do": action}).encode())
            count["faults"] += read_answer(connection) == 200
            ask(connection, port, "/api/blind", "POST", json.dumps({"on": rng.random() < 0.5}).encode())
            read_answer(connection)
        elif manner == "half":
            connection.sendall(b"GET /api/state HTTP/1.1\r\nHost: 127")
            stop.wait(rng.random() * 3)
        elif manner == "slow":
            for byte in b"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n":
                connection.sendall(bytes([byte]))
                stop.wait(0.02)
            connection.recv(1024)
        elif manner == "garbage":
            connection.sendall(rng.randbytes(rng.choice([10, 1000, 30000])))
            connection.recv(1024)
        else:  # asks for much and does not wait
            ask(connection, port, rng.choice(["/api/capture.pcapng", "/api/trend.csv", "/"]))
    except OSError:
        pass
    finally:
        (reset if rng.random() < 0.3 else socket.socket.close)(connection)


def tell(path, line, timeout_s=5):
    """The answer to one line at the control socket; raises OSError if there is none."""
    with socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(timeout_s)
        connection.connect(path)
        connection.sendall(line.encode() + b"\n")
        answer = b""
        while not answer.endswith(b"\n"):
            piece = connection.recv(65536)
            if not piece:
                raise OSError("the control socket closed without an answer")
            answer += piece
        return answer.decode().rstrip("\n")


def hands_visit(path, program, rng, stop, count):
    """One who has hold of the control socket and does not behave."""
    count["tell clients"] += 1
    manner = rng.choice(["hangs", "no line end", "too long", "never reads", "traffic", "nonsense", "program"])
    count["tell: " + manner] += 1
    if manner == "program":
        subprocess.run([program, "tell", "--ping", path], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                       timeout=30, check=False)
        return
    try:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(5)
            connection.connect(path)
            if manner == "hangs":
                stop.wait(rng.random() * 5)
            elif manner == "no line end":
                connection.sendall(b"cut ea")
                stop.wait(rng.random())
            elif manner == "too long":
                connection.sendall(b"x" * 100000)
                connection.recv(1000)
            elif manner == "never reads":
                connection.setblocking(False)
                for _ in range(3000):
                    connection.send(b"traffic\n")
            else:
                connection.sendall(b"traffic\n" if manner == "traffic" else rng.randbytes(40) + b"\n")
                connection.recv(65536)
    except OSError:
        pass
