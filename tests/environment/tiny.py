"""A tiny project that needs no package, in the place of the library."""

# A build system within the project itself: pip needs no network for it.
BACKEND = """
import base64, hashlib, pathlib, zipfile

def get_requires_for_build_editable(config_settings=None):
    return []

def build_editable(wheel_directory, config_settings=None, metadata_directory=None):
    if pathlib.Path("no-network").exists():
        raise RuntimeError("no network")
    info = "tiny-1.0.dist-info"
    files = {
        "tiny.pth": str(pathlib.Path.cwd()),
        f"{info}/METADATA": "Metadata-Version: 2.1\\nName: tiny\\nVersion: 1.0\\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\\nGenerator: x\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    }
    record = "".join(f"{name},,\\n" for name in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(pathlib.Path(wheel_directory) / "tiny-1.0-py3-none-any.whl", "w") as wheel:
        for name, text in {**files, f"{info}/RECORD": record}.items():
            wheel.writestr(name, text)
    return "tiny-1.0-py3-none-any.whl"
"""
PROJECT = """
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]
[project]
name = "tiny"
version = "1.0"
"""


def project(root):
    (root / "notebooks").mkdir()
    (root / "pyproject.toml").write_text(PROJECT, "utf-8")
    (root / "backend.py").write_text(BACKEND, "utf-8")
    return root


def change(made, text):
    project = made / "pyproject.toml"
    project.write_text(project.read_text("utf-8") + text, "utf-8")


def renewed(path, text):
    """Write a file anew: the old one has a second name in the copy that is kept."""
    path.unlink()
    path.write_text(text, "utf-8")
