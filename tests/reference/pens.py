"""What is drawn upon the canvases of a page: lines and letters, as the page's own pen drew them."""

import numpy as np

WATCHES = """{
const drawn = new WeakMap(), points = new WeakMap(), pen = CanvasRenderingContext2D.prototype;
const of = (canvas) => drawn.get(canvas) ?? drawn.set(canvas, []).get(canvas);
const path = (one) => points.get(one) ?? points.set(one, []).get(one);
const before = (holder, name, act) => {
  const own = holder[name];
  holder[name] = function (...told) { act(this, told); return own.apply(this, told); };
};
globalThis.Path2D = class extends Path2D {
  constructor(other) { super(other); points.set(this, [...(points.get(other) ?? [])]); }
};
for (const name of ["moveTo", "lineTo"])
  before(Path2D.prototype, name, (one, at) => path(one).push(at));
before(pen, "clearRect", ({ canvas }) => drawn.set(canvas, []));
before(pen, "stroke", ({ canvas, strokeStyle, lineWidth }, [one]) =>
  of(canvas).push({ colour: strokeStyle, width: lineWidth, points: one ? path(one) : [] }));
before(pen, "fillText", (one, [text, x, y]) => {
  const { e, f, b } = one.getTransform();
  of(one.canvas).push({ text: String(text), x: b ? e : x + e, y: b ? f : y + f, turned: b !== 0 });
});
globalThis.penOf = (name) => of(document.querySelector(`#${name} canvas`));
globalThis.coloursOf = (kinds) => kinds.map((kind) => {
  const other = document.createElement("canvas").getContext("2d");
  const { documentElement: root } = document;
  other.strokeStyle = getComputedStyle(root).getPropertyValue(`--${kind}`).trim();
  return other.strokeStyle;
});
}"""
"""Run before a page's own script, it keeps what is drawn from then on."""
KINDS = ("recorded", "own", "gaussian", "measured", "pinned", "ghost")


def watched(driver):
    """The same browser, which from now on keeps what pages draw."""
    driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": WATCHES})
    return driver


def lines(driver, name="picture"):
    """Points by kind of line, (points, 2) arrays in dots of the canvas."""
    driver.execute_async_script("requestAnimationFrame(() => arguments[0]())")
    done = driver.execute_script("return penOf(arguments[0])", name)
    kinds = dict(zip(colours(driver, KINDS), KINDS, strict=True))
    return {
        kinds[one["colour"]]: np.array(one["points"], dtype=float)
        for one in done
        if len(one.get("points", ())) > 2 and one["colour"] in kinds
    }


def colours(driver, kinds):
    """Of lines, as the style names them."""
    return driver.execute_script("return coloursOf(arguments[0])", list(kinds))


def labels(driver, name="picture"):
    """Numbers at the ticks: where they stand and what they say, of times and of heights."""
    driver.execute_async_script("requestAnimationFrame(() => arguments[0]())")
    done = driver.execute_script("return penOf(arguments[0])", name)
    told = [one for one in done if one.get("text", "").replace(".", "").lstrip("-").isdigit()]
    below = max(one["y"] for one in told)
    across = [(one["x"], float(one["text"])) for one in told if one["y"] == below]
    up = [(one["y"], float(one["text"])) for one in told if one["y"] != below]
    return across, up


def curve(driver, kind, name="picture"):
    """A line in its own axes, (points, 2) array, by what stands at the ticks."""
    points = lines(driver, name)[kind]
    return np.stack(
        [
            np.polyval(np.polyfit(*np.array(ticks).T, 1), points[:, at])
            for at, ticks in enumerate(labels(driver, name))
        ],
        axis=1,
    )
