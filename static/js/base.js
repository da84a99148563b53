// What every page needs: words when a live part gets no answer, and print and copy buttons.
(() => {
  const status = document.getElementById("page-status");

  function say(words) {
    if (status && status.textContent !== words) {
      status.textContent = words;
    }
  }

  document.addEventListener("htmx:error", () => {
    say("The server did not answer. What you typed is still here; nothing was saved.");
  });
  document.addEventListener("htmx:after:swap", () => {
    say("");
  });

  function copyByHand(field) {
    field.focus();
    field.select();
    return document.execCommand("copy");
  }

  async function copyFrom(button) {
    const field = document.getElementById(button.dataset.copies);
    let copied = false;
    if (navigator.clipboard && window.isSecureContext) {
      try {
        await navigator.clipboard.writeText(field.value);
        copied = true;
      } catch {
        copied = false;
      }
    }
    if (!copied) {
      copied = copyByHand(field);
    }
    say(copied ? "Copied." : "Not copied: the text is selected, copy it with the keyboard.");
  }

  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("button") : null;
    if (!button) {
      return;
    }
    if (button.dataset.copies) {
      copyFrom(button);
    }
    if (button.dataset.prints !== undefined) {
      window.print();
    }
  });

  // Buttons that only work with scripts are hidden until scripts run.
  for (const element of document.querySelectorAll("[data-needs-scripts]")) {
    element.hidden = false;
  }
})();
