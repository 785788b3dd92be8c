"""Apps over the fake lab, and a way to ask them as a browser does."""

import json
import os
import shutil
from contextlib import contextmanager
from threading import Event, Thread
from urllib.parse import urlsplit

import pytest

from dashboards.app import close, create_app
from tests.dashboards.fake_lab import FakeLab

ORIGIN = {"Origin": "http://localhost"}


class Asker:
    """Calls callbacks over HTTP, as the page's own script does."""

    def __init__(self, app):
        self.app = app
        self.client = app.server.test_client()
        listed = self.client.get("/_dash-dependencies").get_json()
        self.callbacks = {one["output"]: one for one in listed}

    def call(self, prop, values, *, by=None, changed=None):
        """Call the callback that writes ``prop``; ``by`` is one of its inputs where several do."""
        output, one = next(
            (output, one)
            for output, one in self.callbacks.items()
            if prop in {part.split("@")[0] for part in output.strip(".").split("...")}
            and (by is None or by in {given["id"] for given in one["inputs"]})
        )
        body = {
            "output": output,
            "outputs": _outputs(output),
            "inputs": [_given(i, values) for i in one["inputs"]],
            "state": [_given(s, values) for s in one["state"]],
            "changedPropIds": changed or [],
        }
        return self.client.post(
            "/_dash-update-component",
            data=json.dumps(body),
            content_type="application/json",
            headers=ORIGIN,
        )

    def answer(self, prop, values, *, by=None, changed=None):
        """Return the response's parts by component."""
        response = self.call(prop, values, by=by, changed=changed)
        if response.status_code == 204:
            return {}
        assert response.status_code == 200, response.text
        return response.get_json()["response"]


def _outputs(output):
    def one(text):
        key, _, prop = text.rpartition(".")
        return {"id": key, "property": prop}

    if output.startswith(".."):
        return [one(text) for text in output.strip(".").split("...")]
    return one(output)


def _given(asked, values):
    key = f"{asked['id']}.{asked['property']}"
    return {**asked, "value": values.get(key)}


@pytest.fixture
def lab():
    return FakeLab()


@pytest.fixture
def app(lab):
    made = create_app(lab)
    yield made
    close(made)


@pytest.fixture
def asker(app):
    return Asker(app)


@pytest.fixture
def client(app):
    return app.server.test_client()


FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # Pages share one process, where scripts that were compiled once stay so.
    "--process-per-site",
)


@pytest.fixture(scope="session")
def chromium():
    """Return one browser for the whole run; each test has its own context in it."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("EVENTLAB_BROWSER_MUST_RUN") == "1":
            pytest.fail("no chromium is installed, and the browser tests must run")
        pytest.skip("no chromium is installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=list(FLAGS))
        yield browser
        browser.close()


@contextmanager
def serving(app):
    """Serve an app from a thread of this process on a free port."""
    from waitress import create_server, wasyncore

    connections, over = {}, Event()
    server = create_server(app.server, map=connections, host="127.0.0.1", port=0, threads=12)

    def run():
        while not over.is_set():
            wasyncore.loop(timeout=0.2, map=connections, count=1)

    thread = Thread(target=run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        over.set()
        thread.join(5)
        server.task_dispatcher.shutdown()
        wasyncore.close_all(connections, ignore_all=True)
        close(app)


@pytest.fixture(scope="session")
def served():
    """Serve the fake lab for the whole run; tests that change it make their own."""
    with serving(create_app(FakeLab(outcomes=240))) as address:
        yield address


class Watch:
    """What a page asked for and complained about."""

    def __init__(self, page):
        self.page = page
        self.hosts, self.errors, self.failed = set(), [], []
        page.on("request", lambda request: self.hosts.add(urlsplit(request.url).hostname))
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("response", self._response)
        page.add_init_script(
            "window.refused = [];"
            "document.addEventListener('securitypolicyviolation',"
            " e => window.refused.push(e.violatedDirective + ' ' + e.blockedURI));"
        )

    def _console(self, message):
        if message.type in {"error", "warning"}:
            self.errors.append(message.text)

    def _response(self, response):
        if response.status >= 400:
            self.failed.append(f"{response.status} {response.url}")

    def check(self):
        """Nothing from elsewhere, nothing on the console, nothing refused."""
        assert self.hosts <= {"127.0.0.1", None}
        assert self.errors == []
        assert self.failed == []
        assert self.page.evaluate("window.refused") == []


@pytest.fixture(scope="session")
def contexts(chromium):
    """Return one context for each light, whose cache all pages share."""
    made = {theme: _context(chromium, theme) for theme in ("light", "dark")}
    yield made
    for context in made.values():
        context.close()


def _context(chromium, theme):
    context = chromium.new_context(color_scheme=theme, reduced_motion="reduce")
    context.set_default_timeout(30_000)
    # A page that stays open keeps the process of all pages at this address.
    kept = context.new_page()
    kept.route("**/*", lambda route: route.fulfill(body=""))
    kept.goto("http://127.0.0.1/")
    return context


@contextmanager
def opened(contexts, address, *, width=1440, height=900, theme="light", check=True):
    """Open a page and watch it to its end; what it keeps in the browser is forgotten after."""
    page = contexts[theme].new_page()
    page.set_viewport_size({"width": width, "height": height})
    watch = Watch(page)
    try:
        page.goto(address)
        yield page
        if check:
            watch.check()
    finally:
        page.evaluate("window.localStorage.clear()")
        page.close()


def until(page, expression):
    """Wait until something is true in a page; the content policy forbids to wait inside it."""
    for _ in range(600):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never true: {expression}")


READY = {
    "/": (".spark", "#home-map .scatterlayer .point", "#home-count:not(:empty)"),
    "/site": ("#site-raster .scatterlayer .point", ".finding", ".table"),
    "/zone": ("#site-raster .scatterlayer .point", ".finding, .says"),
    "/zone/7": ("#site-raster .scatterlayer .point", ".finding", ".chart .barlayer .point"),
    "/logs": (".drop-label", "#logs-ledger .table"),
    "/watch": (".alive-picture .main-svg >> nth=2", ".stands", ".walked", ".table"),
    "/how-sure": ("#sure-curve .main-svg",),
    "/people": (".chart .main-svg", ".table", "#trained-at"),
    "/proof": (".proof-picture .main-svg", ".verdict", ".table"),
}


def settle(page, path):
    """Wait until a page shows what it came to show."""
    path = path.split("?")[0]
    kind = "/site" if path.startswith("/site") else path
    if "/zone/" in path:
        kind = "/zone/7" if path.endswith("/zone/7") else "/zone"
    for page_ in ("/proof", "/people", "/watch"):
        kind = page_ if path.endswith(page_) else kind
    for selector in READY[kind]:
        page.wait_for_selector(selector, state="attached")
    until(page, "!document.querySelector('[data-dash-is-loading=true]')")
