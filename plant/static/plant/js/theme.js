// Before the first paint: the light or dark and the hand this device was set to. Nothing is sent anywhere.
(function () {
  "use strict";
  const root = document.documentElement;
  for (const name of ["theme", "hand"]) {
    try {
      const kept = window.localStorage.getItem("bandkeeper." + name);
      if (kept) root.dataset[name] = kept;
    } catch {
      return; // A browser that keeps nothing still shows the page, by the device's own wish.
    }
  }
})();
