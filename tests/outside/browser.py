"""What a real browser makes of a report: Chromium by playwright, accessibility by axe-core."""

import json
import os
import re
import shutil
from pathlib import Path

WIDTHS = [360, 768, 1280, 2560]


def chromium():
    """The browser of the system, or of TWINWEDGE_CHROMIUM."""
    found = os.environ.get("TWINWEDGE_CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    assert found, "Chromium is missing. Install it (Debian: apt-get install chromium), or name it in TWINWEDGE_CHROMIUM."
    return found


def violations(page):
    import axe_playwright_python

    source = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text()
    page.evaluate(source)
    found = page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")
    return [f"{one['id']}: {[node['html'][:160] for node in one['nodes'][:3]]}" for one in found["violations"]]


def overflow(page):
    """How far the page is wider than its window, and what sticks out of it where nothing scrolls it."""
    return page.evaluate(
        """() => {
          const wide = document.documentElement.scrollWidth - innerWidth;
          const out = [...document.querySelectorAll('main *')].filter(e => !e.closest('svg, table') &&
            e.getBoundingClientRect().right > innerWidth + 1);
          return [Math.max(0, wide), out.slice(0, 3).map(e => e.tagName + '.' + e.className)];
        }"""
    )


def interpolated(points, x):
    import numpy

    xs, ys = zip(*points)
    return float(numpy.interp(x, xs, ys))


def curves(page):
    """Densities under the pointer as the page tells them, beside those that numpy reads off the same points."""
    figure = page.locator("figure[data-curves]").first
    data = json.loads(figure.get_attribute("data-curves"))
    svg = figure.locator("svg").first
    svg.scroll_into_view_if_needed()
    out = {"told": [], "aligned": None, "shift": data["shift"], "keys": None}
    low = max(film["points"][0][0] for film in data["films"])
    high = min(film["points"][-1][0] for film in data["films"])
    view = float(svg.get_attribute("viewBox").split()[2])

    def read(x):
        box = svg.bounding_box()
        left, width = data["x"][2:]
        at = left + (x - data["x"][0]) / (data["x"][1] - data["x"][0]) * width
        page.mouse.move(box["x"] + at / view * box["width"], box["y"] + box["height"] / 2)
        text = figure.locator(".told").text_content()
        numbers = [float(number) for number in re.findall(r"[+-]?\d+\.\d+", text.replace("−", "-"))]
        # Names of films hold no decimals: the place, both densities, the difference.
        return numbers

    for share in (0.2, 0.5, 0.8):
        x = low + share * (high - low)
        out["told"].append([read(x), [interpolated(film["points"], x) for film in data["films"]]])
    if data["shift"] is not None:
        figure.get_by_role("button", name="Speed points over each other").click()
        svg.scroll_into_view_if_needed()
        x = low + 0.6 * (high - low)
        told = read(x)
        out["aligned"] = [told, [interpolated(film["points"], x - (data["shift"] if number else 0)) for number, film in enumerate(data["films"])]]
        figure.get_by_role("button", name="As exposed").click()
    page.mouse.move(1, 1)
    strip = figure.get_by_role("slider", name="Place on the curves")
    strip.focus()
    page.keyboard.press("ArrowRight")
    out["keys"] = figure.locator(".told").text_content()
    return out


def prints(page):
    tools = page.get_by_role("group", name="How the prints are shown").first
    pair = page.locator(".prints").first
    before = pair.locator("figure:visible").count()
    tools.get_by_role("button", name="Divided by a line").click()
    slider = pair.get_by_role("slider")
    slider.fill("25")
    over = pair.locator("svg.over")
    out = {
        "side_by_side": before,
        "divided": pair.locator("figure:visible").count(),
        "clip": over.evaluate("e => getComputedStyle(e).clipPath"),
        "registered": over.evaluate(
            "e => { const [a, b] = [e, e.parentElement.querySelector('svg')].map(s => s.getBoundingClientRect());"
            " return Math.max(Math.abs(a.x - b.x), Math.abs(a.y - b.y), Math.abs(a.width - b.width), Math.abs(a.height - b.height)); }"
        ),
    }
    tools.get_by_role("button", name="Side by side").click()
    out["back"] = pair.locator("figure:visible").count()
    return out


def grain(page):
    tools = page.get_by_role("group", name="Magnifier over the grain of both films").first
    pair = page.locator(".grain[data-pitch]").first
    out = {"pitch": float(pair.get_attribute("data-pitch")), "off": pair.locator("svg.lens:visible").count(), "views": []}
    for name in ("True size: pixel for pixel", "4 ×"):
        tools.get_by_role("button", name=name).click()
        picture = pair.locator("figure svg:not(.lens)").first
        picture.scroll_into_view_if_needed()
        box = picture.bounding_box()
        page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.3 * box["height"])
        lenses = pair.locator("svg.lens")
        out["views"].append([lenses.nth(at).get_attribute("viewBox") for at in range(lenses.count())])
    out["side"] = float(pair.locator("figure svg:not(.lens)").first.get_attribute("viewBox").split()[2])
    return out


def tables(page):
    """The second column of the first sortable table as it stands, sorted up, down, and back."""
    table = page.locator("table.sorts").first
    out = []
    for click in range(4):
        if click:
            table.locator("thead th").nth(1).get_by_role("button").click()
        texts = table.locator("tbody tr td:nth-child(2)").all_text_contents()
        sign = table.locator("thead th").nth(1).get_attribute("aria-sort")
        out.append([sign, texts])
    return out


def how(page):
    link = page.locator("a.how").first
    row = page.locator(link.get_attribute("href"))
    wanted = [row.locator("td").nth(at).text_content() for at in range(3)]
    link.click()
    dialog = page.locator("dialog")
    shown = dialog.inner_text()
    page.keyboard.press("Escape")
    return {"wanted": wanted, "shown": shown, "closed": not dialog.is_visible(), "back": link.evaluate("e => document.activeElement === e")}


def report(path):
    from playwright.sync_api import sync_playwright

    out = {"errors": [], "requests": [], "widths": {}, "without": {}}
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"])
        for script in (True, False):
            context = browser.new_context(java_script_enabled=script, viewport={"width": 1280, "height": 900})
            page = context.new_page()
            page.on("console", lambda message: out["errors"].append(message.text) if message.type in ("error", "warning") else None)
            page.on("pageerror", lambda error: out["errors"].append(str(error)))
            page.on("request", lambda request: out["requests"].append(request.url[:80]) if not request.url.startswith(("file:", "data:")) else None)
            page.goto(Path(path).resolve().as_uri())
            if not script:
                # Evaluating is the browser's own: the page's script is off.
                out["without"] = {
                    "text": page.locator("main").inner_text(),
                    "buttons": page.locator("button").count(),
                    "hidden": page.locator("main [hidden]").count(),
                }
                context.close()
                continue
            out["text"] = page.locator("main").inner_text()
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 900})
                out["widths"][str(width)] = overflow(page)
            page.set_viewport_size({"width": 1280, "height": 900})
            out["violations"] = violations(page)
            out["curves"] = curves(page)
            if page.locator(".prints .surround").count() >= 2:
                out["prints"] = prints(page)
            if page.locator(".grain[data-pitch] figure").count() >= 2:
                out["grain"] = grain(page)
            out["tables"] = tables(page)
            out["how"] = how(page)
            context.close()
        browser.close()
    return out
