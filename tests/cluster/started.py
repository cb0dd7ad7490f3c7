"""Processes that a test starts: all carry a mark in their environment, so that none of them can be left behind."""

import os
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import psutil

MARK = "ULLAGE_TEST_FOLDER"


def marked(folder: Path, **more: str) -> dict[str, str]:
    """Return this environment with the mark of a folder, which every child inherits."""
    return {**os.environ, MARK: str(folder), **more}


def living(folder: Path) -> list[psutil.Process]:
    """Return the processes that carry the mark of a folder and have not ended."""
    return [each for each in psutil.process_iter() if _mark(each) == str(folder)]


def _mark(process: psutil.Process) -> str | None:
    try:
        return None if process.status() == psutil.STATUS_ZOMBIE else process.environ().get(MARK)
    except psutil.Error:  # it has ended, or belongs to somebody else
        return None


def stop(process: subprocess.Popen, patience: float = 10.0) -> None:
    """End a process that the test has started, politely and then by force."""
    process.terminate()
    try:
        process.wait(patience)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def clear(folder: Path, patience: float = 5.0) -> list[str]:
    """Wait until nothing with the mark of a folder lives, kill what does, and return its command lines."""
    wait_for(lambda: not living(folder), patience)
    left = living(folder)
    commands = [command_line(each) for each in left]
    for each in left:
        each.kill()
    return commands


def command_line(process: psutil.Process) -> str:
    """Return how a process was called, as far as it still lives."""
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        return "ended just now"


def wait_for(happened: Callable[[], bool], patience: float) -> bool:
    """Return whether something happened within some seconds."""
    end = time.monotonic() + patience
    while time.monotonic() < end:
        if happened():
            return True
        time.sleep(0.05)
    return happened()


def output(command: list[str], environment: Mapping[str, str]) -> str:
    """Run a command that has to succeed, and return what it printed."""
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, f"{' '.join(command)}: {done.stdout}{done.stderr}"
    return done.stdout
