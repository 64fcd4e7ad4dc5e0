"""One page in JupyterLab, in a real browser: run it, move it by keyboard, type into it."""

import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

import pytest

playwright = pytest.importorskip("playwright.sync_api")

ROOT = Path(__file__).resolve().parents[2]
NAMES = ("chromium", "chromium-browser", "google-chrome")
# What lets chromium run as root in a container and keeps it from calling home.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SETTINGS = {
    "apputils-extension/notification": '{"fetchNews": "false", "checkForUpdates": false}',
    "notebook-extension/tracker": '{"windowingMode": "none"}',
}
PICTURE = "img.panel-picture"
PATIENCE = 40_000  # ms, for a slow machine; nothing waits longer than it must


@pytest.fixture
def browser_path() -> str:
    """Find the system's browser; without one, skip here and fail where CI is set."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        told = f"no browser: install one of {', '.join(NAMES)}, or name it in CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)
    return found


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    """Ask the server until it answers."""
    end = time.monotonic() + PATIENCE / 1000
    while time.monotonic() < end:
        assert server.poll() is None, f"JupyterLab stopped:\n{log.read_text()}"
        try:
            with urllib.request.urlopen(address, timeout=1):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.1)
    pytest.fail(f"JupyterLab did not answer:\n{log.read_text()}")


@pytest.fixture
def lab(tmp_path):
    """Serve a copy of the notebooks; give the address of a page by its name."""
    shutil.copytree(ROOT / "notebooks", tmp_path / "notebooks")
    for name, text in SETTINGS.items():
        file = tmp_path / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    port, token = free_port(), secrets.token_hex(16)
    base = f"http://127.0.0.1:{port}"
    own = {
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "JUPYTERLAB_SETTINGS_DIR": "settings",
        "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
        "IPYTHONDIR": "ipython",
    }
    variables = os.environ | {name: str(tmp_path / folder) for name, folder in own.items()}
    variables["BELTS_AND_BEAMS_MACHINE"] = str(ROOT / "data" / "machines" / "tagmaker.toml")
    log = tmp_path / "lab.log"
    options = [
        "--no-browser",
        "--allow-root",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--ServerApp.root_dir={tmp_path / 'notebooks'}",
        f"--IdentityProvider.token={token}",
        "--LabApp.extension_manager=readonly",
    ]
    with log.open("wb") as out:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *options],
            stdout=out,
            stderr=subprocess.STDOUT,
            env=variables,
        )
    try:
        wait_for(f"{base}/api?token={token}", server, log)
        yield lambda name: f"{base}/lab/tree/{name}?token={token}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def test_page_runs_moves_and_takes_typed_values(lab, browser_path):
    errors: list[str] = []
    strangers: list[str] = []

    def note(request) -> None:
        address = urlsplit(request.url)
        if address.scheme not in ("data", "blob") and address.hostname != "127.0.0.1":
            strangers.append(request.url)

    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=browser_path, args=FLAGS)
        try:
            page = browser.new_page(viewport={"width": 1366, "height": 768})
            page.set_default_timeout(PATIENCE)
            page.on("pageerror", lambda error: errors.append(str(error)))
            page.on("request", note)
            page.goto(lab("02_which_motor.ipynb"))
            page.get_by_text("Python 3 (ipykernel) | Idle").wait_for()
            page.get_by_role("menuitem", name="Run", exact=True).click()
            page.get_by_role("menuitem", name="Run All Cells", exact=True).click()

            page.locator(f"{PICTURE}[data-update='1']").first.wait_for()
            first = shown(page)
            assert "acceleration" in first["alt"].lower()
            assert first["alt"] != ""

            handle = page.locator(".panel-slider-job-acceleration [role=slider]").first
            handle.focus()
            handle.press("ArrowRight")
            page.locator(f"{PICTURE}[data-update='2']").first.wait_for()
            moved = shown(page)
            assert moved["src"] != first["src"]
            assert moved["said"] != first["said"]
            assert moved["data-job-acceleration"] != first["data-job-acceleration"]

            field = page.get_by_label("carriage friction")
            field.fill("0.02 kN")
            field.press("Enter")
            page.locator(f"{PICTURE}[data-carriage-friction='20 N']").wait_for()
            typed = shown(page)
            assert typed["src"] != moved["src"]
            assert typed["said"] != moved["said"]
            assert field.input_value() == "20 N"

            field.fill("20 mm")
            field.press("Enter")
            alert = page.get_by_role("alert").filter(has_text="friction needs")
            alert.wait_for()
            assert "Kept: 20 N" in alert.inner_text()
            assert shown(page) == typed
        finally:
            browser.close()
    assert errors == []
    assert strangers == []


def shown(page) -> dict[str, str]:
    """Read what a reader sees: the picture with its attributes, and the sentence."""
    picture = page.locator(PICTURE).first  # the motor's panel, the first of the page
    names = ("src", "alt", "data-update", "data-job-acceleration", "data-carriage-friction")
    found = {name: picture.get_attribute(name) or "" for name in names}
    return found | {"said": page.locator(".panel-said").first.inner_text()}
