"""Sphinx extension: pages are made again whenever the code behind their numbers, or what they look like, has changed.

Sphinx and the notebook cache look at the pages' text only. A number on a page also hangs on ``pitside``, on the
exercises and on the style, modules and templates beside the text, so the cache has one folder for each state of those
files, and a change in them has every page read again. A change in the theme or the extensions has every page written
again, and the style sheets with them; Sphinx by itself would find nothing to do.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path
from typing import Any

from sphinx.application import Sphinx
from sphinx.config import Config

import exercises
import pitside


def sources(book: Path) -> list[Path]:
    """The files, apart from the pages' text, that the book's numbers come from."""
    packages = [Path(str(package.__file__)).parent for package in (pitside, exercises)]
    files = [path for package in packages for path in package.rglob("*.py")]
    beside = [path for folder in ("lessons", "reference", "instructor") for path in (book / folder).iterdir()]
    return sorted(files + [path for path in beside if path.suffix in {".py", ".mplstyle", ".jinja"}])


def looks(book: Path) -> list[Path]:
    """The files that the pages' look comes from: the theme, and the extensions with their styles and scripts."""
    files = [path for folder in ("theme", "extensions") for path in (book / folder).rglob("*") if path.is_file()]
    return sorted(path for path in files if "__pycache__" not in path.parts)


def digest(files: list[Path]) -> str:
    """A digest of the files' names and contents."""
    running = hashlib.sha256()
    for path in files:
        running.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return running.hexdigest()


def use_fresh_cache(app: Sphinx, config: Config) -> None:
    """Point the notebook cache at this state's own folder and drop the folders of other states."""
    config.computed_from = digest(sources(Path(app.srcdir)))
    config.looks_from = digest(looks(Path(app.srcdir)))
    caches = Path(app.outdir).parent / ".notebook_cache"
    cache = caches / config.computed_from[:16]
    if caches.is_dir():
        for stale in caches.iterdir():
            if stale != cache:
                shutil.rmtree(stale)
    config.nb_execution_cache_path = str(cache)


def share_packages(app: Sphinx, config: Config) -> None:
    """Put the folder of this build's ``pitside`` first on the path of the kernels that it starts."""
    root = str(Path(str(pitside.__file__)).parent.parent)
    others = [path for path in os.environ.get("PYTHONPATH", "").split(os.pathsep) if path and path != root]
    os.environ["PYTHONPATH"] = os.pathsep.join([root, *others])


#: The kernels' own settings. They listen on this machine alone, and say so in a warning for each lesson otherwise.
KERNEL_SETTINGS = 'get_config().IPKernelApp.log_level = "ERROR"\n'


def use_own_settings(app: Sphinx, config: Config) -> None:
    """Keep the kernels from the user's own IPython settings and start-up files, which could change the pages."""
    folder = Path(app.outdir).parent / ".ipython"
    profile = folder / "profile_default"
    profile.mkdir(parents=True, exist_ok=True)
    (profile / "ipython_kernel_config.py").write_text(KERNEL_SETTINGS, encoding="utf-8")
    os.environ["IPYTHONDIR"] = str(folder)


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_config_value("computed_from", "", "env")
    app.add_config_value("looks_from", "", "html")
    # Jupyter Book hands this setting on for an extension that the book does not load; unknown, it would be a warning.
    app.add_config_value("comments_config", {}, "")
    app.connect("config-inited", use_fresh_cache)
    app.connect("config-inited", share_packages)
    app.connect("config-inited", use_own_settings)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
