"""A shared folder that may be a git work tree: what git calls a file's version, and fetching what is new."""

import subprocess
from pathlib import Path

LIMIT_S = 120.0


def version_of(folder: Path, name: str) -> str:
    """Git's name for the last change of a file; '' where it is no work tree's, was changed since, or is not told us.

    Git tells nothing of a tree that another account owns, unless its own settings say so.
    """
    changed = _git(folder, "status", "--porcelain", "--", name)
    last = _git(folder, "log", "-1", "--format=%H", "--", name)
    if changed is None or last is None or changed.returncode or last.returncode or changed.stdout.strip():
        return ""
    return last.stdout.strip()


def pull(folder: Path) -> str | None:
    """Fetch only what follows on what is there: nothing is merged, nothing lost.

    None if that was done; else git's last word, '' where there is no git.
    """
    done = _git(folder, "pull", "--ff-only", "--quiet")
    if done is None:
        return ""
    if done.returncode == 0:
        return None
    return (done.stderr.strip().splitlines() or [f"git: {done.returncode}"])[-1]


def _git(folder: Path, *words: str) -> subprocess.CompletedProcess[str] | None:
    try:
        return subprocess.run(  # noqa: S603 - the words are ours
            ["git", "-C", str(folder), *words],  # noqa: S607 - wherever it is installed
            capture_output=True,
            text=True,
            check=False,
            timeout=LIMIT_S,
        )
    except (FileNotFoundError, subprocess.TimeoutExpired):
        return None
