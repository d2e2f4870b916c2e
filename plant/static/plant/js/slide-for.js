// <slide-for input="id_wraps" min="0" max="8" step="1" label="Wraps">: a slider beside a figure. The figure stays the
// field that is sent and read out; the slider only moves it, and follows what is typed.
class SlideFor extends HTMLElement {
  connectedCallback() {
    const figure = document.getElementById(this.getAttribute("input"));
    if (!figure || this.firstChild) return;
    const slider = document.createElement("input");
    slider.type = "range";
    for (const name of ["min", "max", "step"]) slider.setAttribute(name, this.getAttribute(name));
    slider.setAttribute("aria-label", `${this.getAttribute("label")}, slider`);
    const follow = () => {
      const typed = Number.parseFloat(figure.value.replace(",", "."));
      slider.value = Number.isNaN(typed) ? this.getAttribute("rest") || slider.min : typed;
    };
    slider.addEventListener("input", () => {
      figure.value = slider.value;
      figure.dispatchEvent(new Event("input", { bubbles: true }));
    });
    figure.addEventListener("input", (event) => {
      if (event.isTrusted) follow();
    });
    follow();
    this.append(slider);
  }
}
customElements.define("slide-for", SlideFor);
