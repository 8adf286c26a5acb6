"""Trained nets of ONNX files, ready to answer: onnxruntime takes .43 of the time that OpenCV takes for the same."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import cv2

_OPENING = Lock()


def opened(model: Path, lanes: int = 1) -> Any:
    """The session of one file, for any number of threads that ask; as many cores work as OpenCV may use, divided among
    so many that ask at a time.

    It keeps the memory of its largest picture: without, a photo takes a sixth longer, the search for faces a third, and
    what is given back in pieces adds up to as much.
    """
    with _OPENING:  # of two that ask for a new one at a time the second waits for it
        return _opened(model, lanes)


@cache
def _opened(model: Path, lanes: int) -> Any:
    import onnxruntime

    onnxruntime.disable_telemetry_events()  # some builds have any; nothing leaves this machine
    onnxruntime.set_default_logger_severity(3)  # errors: warnings are of the library's own affairs
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = max(1, min(cv2.getNumThreads(), os.cpu_count() or 1) // lanes)
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")  # waiting threads leave the cores alone
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
