"""A Slurm of one node on loopback, in a folder of its own: beside any other Slurm, and without its configuration."""

import contextlib
import getpass
import secrets
import shutil
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

from started import clear, marked, output, stop, wait_for

PROGRAMS = "munged", "slurmctld", "slurmd", "sbatch", "sinfo", "squeue", "scancel"
CPUS = 2
MEMORY_MB = 4000

CONFIGURATION = """\
ClusterName=ullage_tests
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={control_port}
SlurmdPort={node_port}
SlurmUser={user}
SlurmdUser={user}
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
SwitchType=switch/none
PlugStackConfig={folder}/plugstack.conf
SchedulerType=sched/backfill
SchedulerParameters=sched_interval=1,bf_interval=1,batch_sched_delay=0
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SlurmdParameters=config_overrides
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
ReturnToService=2
NodeName={host} NodeAddr=127.0.0.1 CPUs={cpus} RealMemory={memory} State=UNKNOWN
PartitionName=main Nodes=ALL Default=YES MaxTime=INFINITE State=UP
"""


def why_not() -> str | None:
    """Return why Slurm cannot run here, or None."""
    absent = [each for each in PROGRAMS if shutil.which(each) is None]
    if absent:
        return f"needs Slurm and munge (Debian: slurm-wlm, munge); not found: {', '.join(absent)}"
    return None


@contextlib.contextmanager
def slurm_node(folder: Path) -> Iterator[dict[str, str]]:
    """Bring up the node, give the environment that its commands need, and stop all that was started."""
    environment = marked(folder, SLURM_CONF=f"{folder}/slurm.conf")
    _write(folder)
    munge = [f"--{each}-file={folder}/munge.{each}" for each in ("key", "pid", "log", "seed")]
    daemons = [
        ["munged", "--foreground", "--force", f"--socket={folder}/munge.socket", *munge],
        ["slurmctld", "-D"],
        ["slurmd", "-D"],
    ]
    started = []
    try:
        for command in daemons:
            log = (folder / f"{command[0]}.out").open("w")
            started.append(subprocess.Popen(command, env=environment, stdout=log, stderr=log, start_new_session=True))
            log.close()
        if not wait_for(lambda: _idle(environment), 30.0):
            raise RuntimeError(_last_words(folder))
        yield environment
        _end_jobs(environment)
    finally:
        for process in reversed(started):
            stop(process)
        left = clear(folder)
    assert not left, f"Slurm left behind: {left}"


def run_array(environment: dict[str, str], script: Path, tasks: int, patience: float = 120.0) -> None:
    """Submit a script as an array of jobs in its own folder, and wait until none of them is left."""
    where = [f"--chdir={script.parent}", f"--output={script.parent}/%a.out"]
    job = output(["sbatch", "--parsable", f"--array=1-{tasks}", *where, str(script)], environment).strip()
    over = wait_for(lambda: output(["squeue", "-h", "-j", job], environment) == "", patience)
    assert over, f"after {patience:g} s: {output(['squeue'], environment)}"


def _write(folder: Path) -> None:
    ports = [_free_port() for _ in range(2)]
    text = CONFIGURATION.format(
        folder=folder,
        host=socket.gethostname().split(".")[0],
        user=getpass.getuser(),
        control_port=ports[0],
        node_port=ports[1],
        cpus=CPUS,
        memory=MEMORY_MB,
    )
    (folder / "slurm.conf").write_text(text)
    (folder / "plugstack.conf").touch()
    (folder / "munge.key").write_bytes(secrets.token_bytes(128))
    (folder / "munge.key").chmod(0o600)
    for each in ("state", "spool"):
        (folder / each).mkdir()


def _free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


def _idle(environment: dict[str, str]) -> bool:
    said = subprocess.run(["sinfo", "-h", "-o", "%T"], env=environment, capture_output=True, text=True)
    return said.stdout.strip() == "idle"


def _end_jobs(environment: dict[str, str]) -> None:
    output(["scancel", "--user", getpass.getuser()], environment)
    wait_for(lambda: output(["squeue", "-h"], environment) == "", 20.0)


def _last_words(folder: Path) -> str:
    logs = [(each.name, each.read_text().splitlines()[-8:]) for each in sorted(folder.glob("*.out"))]
    return "Slurm did not come up:\n" + "\n".join(f"{name}: {line}" for name, lines in logs for line in lines)
