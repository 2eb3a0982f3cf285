"use strict";
// Draws every box that names a figure; the figure itself is JSON from the address in data-figure.
(() => {
  const config = { responsive: true, displaylogo: false, modeBarButtonsToRemove: ["lasso2d", "select2d", "autoScale2d"] };

  function narrowed(layout, width) {
    // On a phone the names of rows would leave no room for the bars.
    if (width >= 560 || !layout.yaxis || !layout.yaxis.ticktext) {
      return layout;
    }
    const shown = structuredClone(layout);
    shown.yaxis.tickfont = { size: 10 };
    shown.margin = { ...shown.margin, l: 30, r: 10 };
    if (shown.annotations && shown.xaxis.range && shown.barmode === "relative") {
      const [low, high] = shown.xaxis.range;
      shown.xaxis.range = [low, high + 0.3 * (high - low)];
      shown.annotations.forEach((one) => { one.font = { size: 10 }; });
    }
    return shown;
  }

  async function draw(box) {
    const answer = await fetch(box.dataset.figure, { headers: { Accept: "application/json" }, credentials: "same-origin" });
    if (!answer.ok) {
      box.textContent = "This figure could not be loaded.";
      return;
    }
    const figure = await answer.json();
    box.replaceChildren();
    const layout = narrowed(figure.layout, box.clientWidth);
    await Plotly.newPlot(box, figure.data, layout, config);
    box.dispatchEvent(new CustomEvent("figure-drawn", { detail: figure }));
  }

  const boxes = [...document.querySelectorAll("[data-figure]")];
  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (entry.isIntersecting) {
        seen.unobserve(entry.target);
        draw(entry.target).catch(() => { entry.target.textContent = "This figure could not be drawn."; });
      }
    }
  }, { rootMargin: "400px" });
  boxes.forEach((box) => seen.observe(box));
})();
