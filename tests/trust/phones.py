"""Phones as the server sees them: the page's own websocket messages, without a browser.

``python -m tests.trust.phones 20`` serves the page and lets so many send a photo at once.
"""

import http.client
import json
import os
import re
import sys
import threading
import time
import uuid
from contextlib import ExitStack
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect

#: The page's script ended to run once more: what it shows is still to come.
BEGINS_ANEW = ForwardMsg.ScriptFinishedStatus.FINISHED_EARLY_FOR_RERUN
PLACE = re.compile(r"(\d+) photos? (?:is|are) before yours")


@dataclass
class Seen:
    """What a phone was shown: after how long, and the places in the queue."""

    answer: str = ""
    seconds: float = 0.0
    places: list[int] = field(default_factory=list)
    error: str = ""


class Phone:
    """One phone before the page.

    Parameters
    ----------
    address : str
        The page's.
    cookie : str
        Its key, where it has one.
    """

    def __init__(self, address: str, cookie: str = "") -> None:
        self._address, self._host = address, urlsplit(address).netloc
        self._xsrf = uuid.uuid4().hex
        self._headers = {"Cookie": f"{cookie}; _streamlit_xsrf={self._xsrf}"}
        self._end = ExitStack()
        self._socket = self._end.enter_context(
            connect(
                address.replace("http", "ws", 1) + "/_stcore/stream",
                subprotocols=["streamlit", self._xsrf],
                additional_headers=self._headers,
                max_size=None,
                open_timeout=60,
                # As a browser: it asks for no sign of life while the server reckons.
                ping_interval=None,
            )
        )
        self.session = self.uploader = ""
        self._run(BackMsg())

    def close(self) -> None:
        self._end.close()

    def upload(self, data: bytes, name: str = "spring.jpg") -> tuple[int, str]:
        """Send a file; return the status, and its id."""
        ask = BackMsg()
        ask.file_urls_request.request_id = "1"
        ask.file_urls_request.file_names.append(name)
        ask.file_urls_request.session_id = self.session
        self._socket.send(ask.SerializeToString())
        urls = None
        while urls is None:
            message = self._next(60.0)
            if message.WhichOneof("type") == "file_urls_response":
                urls = message.file_urls_response.file_urls[0]
        self._urls = urls
        head = f'--edge\r\nContent-Disposition: form-data; name="f"; filename="{name}"\r\n'
        body = head.encode() + b"Content-Type: image/jpeg\r\n\r\n" + data + b"\r\n--edge--\r\n"
        line = http.client.HTTPConnection(self._host, timeout=120)
        sent = {
            "Content-Type": "multipart/form-data; boundary=edge",
            "X-Xsrftoken": self._xsrf,
            **self._headers,
        }
        try:
            line.request("PUT", "/" + urls.upload_url.lstrip("/"), body, sent)
            status = line.getresponse().status
        except (BrokenPipeError, ConnectionResetError):
            status = 413  # it hung up before it had all of it
        line.close()
        return status, urls.file_id

    def measure(self, data: bytes, name: str = "spring.jpg") -> Seen:
        """Send a photo, and wait for the rate."""
        began = time.monotonic()
        _, file_id = self.upload(data, name)
        ask = BackMsg()
        state = ask.rerun_script.widget_states.widgets.add()
        state.id = self.uploader
        info = state.file_uploader_state_value.uploaded_file_info.add()
        info.name, info.size, info.file_id = name, len(data), file_id
        info.file_urls.CopyFrom(self._urls)
        return self._run(ask, began)

    def _run(self, ask: BackMsg, began: float = 0.0) -> Seen:
        """Let the page's script run, and return what it showed."""
        if not ask.WhichOneof("type"):
            ask.rerun_script.query_string = ""
        self._socket.send(ask.SerializeToString())
        seen = Seen()
        while True:
            message = self._next(300.0)
            kind = message.WhichOneof("type")
            if kind == "new_session":
                self.session = message.new_session.initialize.session_id or self.session
            elif kind == "delta":
                self._look(message, seen, began)
            elif kind == "script_finished" and message.script_finished != BEGINS_ANEW:
                return seen

    def _look(self, message: ForwardMsg, seen: Seen, began: float) -> None:
        element = message.delta.new_element
        kind = element.WhichOneof("type")
        text = str(element)
        place = PLACE.search(text) or PLACE.search(str(message.delta.new_transient))
        if place and (not seen.places or seen.places[-1] != int(place[1])):
            seen.places.append(int(place[1]))
        if kind == "file_uploader" and "Photo of one spring" in element.file_uploader.label:
            self.uploader = element.file_uploader.id
        elif kind == "metric" and element.metric.label == "Rate":
            seen.answer, seen.seconds = element.metric.body, time.monotonic() - began
        elif kind == "exception":
            seen.error = element.exception.message

    def _next(self, seconds: float) -> ForwardMsg:
        message = ForwardMsg()
        message.ParseFromString(self._socket.recv(seconds))
        return message


def different(data: bytes, number: int) -> bytes:
    """Return the same picture as another file: a comment in the JPEG."""
    words = f"phone {number}".encode()
    return data[:2] + b"\xff\xfe" + (len(words) + 2).to_bytes(2, "big") + words + data[2:]


def all_at_once(address: str, photos: list[bytes]) -> list[Seen]:
    """Let a phone for each photo send it, all at the same moment."""
    phones = [Phone(address) for _ in photos]
    ready, seen = threading.Barrier(len(photos)), [Seen() for _ in photos]

    def send(number: int) -> None:
        ready.wait()
        try:
            seen[number] = phones[number].measure(photos[number])
        except Exception as problem:
            seen[number].error = repr(problem)

    threads = [threading.Thread(target=send, args=(k,)) for k in range(len(photos))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for phone in phones:
        phone.close()
    return seen


def memory_of(pid: int) -> dict[str, float]:
    """Return a process's memory now and at its peak [MB]."""
    with open(f"/proc/{pid}/status") as file:
        lines = dict(line.split(":", 1) for line in file)
    return {name: int(lines[key].split()[0]) / 1000.0 for name, key in _MEMORY.items()}


_MEMORY = {"now": "VmRSS", "peak": "VmHWM"}


def main(count: int) -> None:
    from tests.ui.browsing import serving
    from ui.screens.by_photo import SAMPLE

    photo = SAMPLE.read_bytes()
    with serving() as (address, pid):
        Phone(address).measure(photo)
        warm = memory_of(pid)
        began = time.monotonic()
        seen = all_at_once(address, [different(photo, k) for k in range(count)])
        took, after = time.monotonic() - began, memory_of(pid)
    waits = sorted(one.seconds for one in seen)
    told = {
        "phones": count,
        "answered": sum(bool(one.answer) for one in seen),
        "errors": [one.error for one in seen if one.error],
        "saw their place": sum(bool(one.places) for one in seen),
        "most before one": max((one.places[0] for one in seen if one.places), default=0),
        "seconds, first / median / last": [
            round(waits[k], 1) for k in (0, len(waits) // 2, len(waits) - 1)
        ],
        "all in seconds": round(took, 1),
        "server MB, warm / peak": [round(warm["now"]), round(after["peak"])],
        "load of the machine before": os.getloadavg()[1],
    }
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    main(int(sys.argv[1]))
