// What every page needs: menus that close, choices of this device, the first wrong field in view.
const root = document.documentElement;

function keep(name, value) {
  if (value) root.dataset[name] = value;
  else delete root.dataset[name];
  try {
    if (value) localStorage.setItem("bandkeeper." + name, value);
    else localStorage.removeItem("bandkeeper." + name);
  } catch {
    // Private windows keep nothing; the choice then holds for this page.
  }
}

function showChoices() {
  for (const button of document.querySelectorAll("[data-set]")) {
    const current = root.dataset[button.dataset.set] || "";
    button.setAttribute("aria-pressed", String(current === button.dataset.to));
  }
}

document.addEventListener("click", (event) => {
  const choice = event.target.closest("[data-set]");
  if (choice) {
    keep(choice.dataset.set, choice.dataset.to);
    showChoices();
  }
  for (const menu of document.querySelectorAll("details.menu[open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const menu of document.querySelectorAll("details.menu[open]")) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});

function focusFirst(within) {
  const first = within.querySelector("[data-focus-first]");
  if (first) first.focus();
}

document.addEventListener("htmx:afterSwap", (event) => focusFirst(event.target));
showChoices();
focusFirst(document);
