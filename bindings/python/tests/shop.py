"""An in-process shop, and a sender to it that drops, repeats and throws."""

import hashlib
import json

import steerwright as s

RECEIVED = "2026-05-02T08:00:00Z"


class Shop:
    def __init__(self, token="larch-hollow-1"):
        self.token = token
        self.requests = {}
        self.effects = {}
        self.photos = {}
        self.words = {}
        self.messages = {}

    def receipt(self, key):
        word = self.words.get(key, {"state": "waiting"})
        told = {"schema": "steerwright.receipt/1", "id": key, "number": 17, "received_at": RECEIVED, "since": RECEIVED}
        told["contact"] = "Tarn & Tiller Components, +1 202 555 0162"
        return json.dumps(told | word).encode()

    def serve(self, call):
        headers = {header.name.lower(): header.value for header in call.headers}
        assert headers["authorization"] == f"Bearer {self.token}"
        base, path = "https://shop.example", ""
        assert call.url.startswith(base)
        path = call.url[len(base) :]
        json_kind = [s.Header(name="Content-Type", value="application/json")]
        name = path.rsplit("/", 1)[1]
        if path.startswith("/v1/photos/"):
            there = self.photos.setdefault(name, bytearray())
            if call.method == "HEAD":
                if not there:
                    return answered(404)
                return answered(200, [s.Header(name="Upload-Offset", value=str(len(there)))])
            span, whole = headers["content-range"].removeprefix("bytes ").split("/")
            first, last = map(int, span.split("-"))
            assert len(call.body) == last - first + 1
            if first == len(there):
                there.extend(call.body)
            if len(there) < int(whole):
                return answered(202, [s.Header(name="Upload-Offset", value=str(len(there)))])
            assert hashlib.sha256(there).hexdigest() == name
            return answered(201)
        if name == "messages":
            message = json.loads(call.body)
            assert headers["idempotency-key"] == f'"{message["id"]}"' and message["request"] in self.requests
            assert self.messages.setdefault(message["id"], call.body) == call.body, "the same key with another body"
            return answered(201, json_kind, self.receipt(message["request"]))
        if name == "cancellation":
            assert call.method == "PUT"
            key = path.rsplit("/", 2)[1]
            late = self.words.get(key, {}).get("state") == "accepted"
            if not late:
                self.words[key] = {"state": "withdrawn"}
            told = {"schema": "steerwright.cancellation/1", "outcome": "too_late" if late else "accepted"}
            told["receipt"] = json.loads(self.receipt(key))
            return answered(200, json_kind, json.dumps(told).encode())
        if call.method == "POST":
            request = json.loads(call.body)
            key = request["id"]
            assert headers["idempotency-key"] == f'"{key}"'
            if key not in self.requests:
                self.requests[key] = call.body
                self.effects[key] = self.effects.get(key, 0) + 1
            assert self.requests[key] == call.body, "the same key with another body"
            return answered(201, json_kind, self.receipt(key))
        assert call.method == "GET"
        if name not in self.requests:
            return answered(404)
        return answered(200, json_kind, self.receipt(name))


def answered(status, headers=(), body=b""):
    return s.CallResult.ANSWERED(status=status, headers=list(headers), body=body)


class FakeSender(s.Sender):
    def __init__(self, shop, script=()):
        self.shop = shop
        self.script = list(script)
        self.calls = []

    def send(self, call):
        self.calls.append(f"{call.method} {call.url}")
        mischief = self.script.pop(0) if self.script else "answer"
        if mischief == "lose":
            return s.CallResult.NOT_REACHED()
        if mischief == "offline":
            return s.CallResult.NO_NETWORK()
        if mischief == "busy":
            return answered(503)
        came = self.shop.serve(call)
        if mischief == "drop":
            return s.CallResult.TIMEOUT()
        if mischief == "throw":
            raise RuntimeError("the radio fell out")
        if mischief == "repeat":
            return self.shop.serve(call)
        return came
