"use strict";
// Zooming into a history asks the server for the stretch shown, downsampled anew, so that no peak is ever lost.
(() => {
  const box = document.querySelector("[data-history]");
  if (!box) {
    return;
  }
  let last = 0;

  async function reload(range) {
    const turn = ++last;
    const address = new URL(box.dataset.figure, window.location.href);
    if (range) {
      address.searchParams.set("start", range[0]);
      address.searchParams.set("end", range[1]);
    }
    const answer = await fetch(address, { headers: { Accept: "application/json" }, credentials: "same-origin" });
    if (!answer.ok || turn !== last) {
      return;
    }
    const figure = await answer.json();
    const layout = { ...box.layout };
    layout.xaxis = { ...layout.xaxis, range: range || figure.layout.xaxis.range };
    layout.yaxis = { ...layout.yaxis, autorange: true };
    await Plotly.react(box, figure.data, layout);
    say(figure);
  }

  function say(figure) {
    document.getElementById("shown").textContent = figure.layout.meta.shown;
  }

  box.addEventListener("figure-drawn", (event) => {
    let waiting = 0;
    say(event.detail);
    box.on("plotly_relayout", (change) => {
      const start = change["xaxis.range[0]"], end = change["xaxis.range[1]"];
      const whole = change["xaxis.autorange"] === true;
      if (!whole && (start === undefined || end === undefined)) {
        return;
      }
      window.clearTimeout(waiting);
      waiting = window.setTimeout(() => reload(whole ? null : [start, end]), 200);
    });
  });

  document.querySelectorAll("[data-zoom]").forEach((button) => {
    // The same for a keyboard: in, out, left, right.
    button.hidden = false;
    button.addEventListener("click", () => {
      if (!box.layout) {
        return;
      }
      const [low, high] = box.layout.xaxis.range.map(Number);
      const width = high - low, middle = (low + high) / 2;
      const next = {
        in: [middle - width / 4, middle + width / 4],
        out: [middle - width, middle + width],
        left: [low - width / 2, high - width / 2],
        right: [low + width / 2, high + width / 2],
      }[button.dataset.zoom];
      Plotly.relayout(box, next ? { "xaxis.range[0]": next[0], "xaxis.range[1]": next[1] } : { "xaxis.autorange": true });
    });
  });
})();
