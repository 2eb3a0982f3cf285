"use strict";
// Follows a job without reloading the page; without scripts the page reloads itself.
(() => {
  const box = document.querySelector("[data-job]");
  if (!box) {
    return;
  }
  const bar = box.querySelector("progress"), words = box.querySelector("[data-words]");
  let wait = 500;

  async function look() {
    try {
      const answer = await fetch(box.dataset.job, { headers: { Accept: "application/json" }, credentials: "same-origin" });
      if (answer.ok) {
        const job = await answer.json();
        bar.value = job.progress;
        if (words.textContent !== job.words) {
          words.textContent = job.words;
        }
        if (job.finished) {
          window.location.replace(job.next);
          return;
        }
        wait = Math.min(wait * 1.2, 3000);
      } else {
        wait = Math.min(wait * 2, 10000);
      }
    } catch {
      // The server may be restarting; the job is not lost.
      wait = Math.min(wait * 2, 10000);
    }
    window.setTimeout(look, wait);
  }
  window.setTimeout(look, wait);
})();
