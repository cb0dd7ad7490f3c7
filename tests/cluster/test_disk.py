"""A study whose disk fills, cannot be written or goes away: a sentence, and what is done stays."""

import os
import resource
import shutil
import subprocess

import pytest

from ground import complete, differences, results_of, run_study_command, study_command
from started import wait_for

pytestmark = pytest.mark.cluster

NAMESPACE = ["unshare", "--mount", "--propagation", "private"]


def may_mount():
    """Return whether a disk of one's own can be mounted here."""
    trial = [*NAMESPACE, "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
    return shutil.which("unshare") is not None and subprocess.run(trial, capture_output=True).returncode == 0


@pytest.fixture
def own_disk(tmp_path, environment):
    """Return what runs a shell script with a small disk at `$DISK`, which nobody else sees."""
    if not may_mount():
        pytest.skip("needs the right to mount a disk of its own (root, and a system that lets it)")
    disk = tmp_path / "disk"
    disk.mkdir()

    def run(script, size):
        mount = f"mount -t tmpfs -o size={size} tmpfs '{disk}'\n"
        settings = {**environment, "DISK": str(disk), "OUT": str(tmp_path)}
        command = [*NAMESPACE, "sh", "-c", f"set -u\n{mount}{script}"]
        return subprocess.run(command, env=settings, capture_output=True, text=True, timeout=120)

    return run


def quoted(command):
    return " ".join(f"'{word}'" for word in command)


def test_a_full_disk_ends_in_a_sentence_and_with_more_room_the_study_ends_well(
    own_disk, study_file, shards, undisturbed, tmp_path
):
    study = quoted(study_command(study_file, tmp_path / "disk" / "results"))
    script = f"""{study}
echo code $?
ls "$DISK/results/shards" | grep -c h5
mount -o remount,size=64m "$DISK"
{study} --resume >/dev/null 2>"$OUT/errors"
echo code $?
cp -r "$DISK/results" "$OUT/results"
"""
    said = own_disk(script, "200k")
    lines = said.stdout.splitlines()
    codes = [line for line in lines if line.startswith("code")]
    assert codes == ["code 1", "code 0"], said.stdout + said.stderr + (tmp_path / "errors").read_text()
    assert "Traceback" not in said.stderr
    assert "disk" in said.stderr or "space" in said.stderr
    assert 0 < int(lines[lines.index("code 1") + 1]) < shards
    assert differences(results_of(tmp_path / "results"), undisturbed) == []


def test_a_folder_that_cannot_be_written_is_named_before_any_race(own_disk, study_file, tmp_path):
    study = quoted(study_command(study_file, tmp_path / "disk" / "results"))
    said = own_disk(f'mount -o remount,ro "$DISK"\n{study}\necho code $?', "1m")
    assert said.stdout.splitlines()[-1] in ("code 1", "code 2")
    assert "Traceback" not in said.stderr
    assert str(tmp_path / "disk") in said.stderr


@pytest.mark.parametrize("size", [2000, 60_000], ids=["a shard", "what is gathered"])
def test_a_limit_on_the_size_of_files_ends_in_a_sentence(study_file, tmp_path, environment, size):
    def limit():
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    command = study_command(study_file, tmp_path / "results")
    said = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120, preexec_fn=limit)
    assert said.returncode == 1
    assert "Traceback" not in said.stderr
    assert "results" in said.stderr


def test_a_folder_removed_in_the_middle_ends_in_a_sentence(study_file, tmp_path, environment):
    folder = tmp_path / "results"
    process = subprocess.Popen(
        study_command(study_file, folder), env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert wait_for(lambda: bool(complete(folder)), 60.0)
    os.rename(folder, tmp_path / "elsewhere")
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "Traceback" not in errors, errors
    assert str(folder) in errors
    assert run_study_command(study_file, tmp_path / "elsewhere", "--resume", environment=environment).returncode == 0
