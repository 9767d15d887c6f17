// A picture is handed out as a file: what is drawn on the page, its looks written into it, the ground of the page below.
(() => {
  if (window.picturesGiven) return;
  window.picturesGiven = true;
  const LOOKS = ["fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-linecap", "stroke-linejoin", "opacity",
    "paint-order", "font-family", "font-size", "font-weight"];
  const make = (tag, attributes, inside = []) => {
    const it = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) it.setAttribute(name, value);
    it.append(...inside);
    return it;
  };

  function picture(drawn, name) {
    const copy = drawn.cloneNode(true), { width, height } = drawn.getBoundingClientRect();
    const there = [...drawn.querySelectorAll("*")], copied = [...copy.querySelectorAll("*")];
    there.forEach((it, n) => LOOKS.forEach((look) => copied[n].style.setProperty(look, getComputedStyle(it)[look])));
    copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    copy.setAttribute("width", width);
    copy.setAttribute("height", height);
    const [x, y] = copy.getAttribute("viewBox").split(" "), ground = getComputedStyle(drawn).backgroundColor;
    copy.prepend(make("title", {}, [name]), make("rect", { x, y, width: "100%", height: "100%", fill: ground }));
    return new XMLSerializer().serializeToString(copy);
  }

  document.addEventListener("click", (event) => {
    const asked = event.composedPath()[0];
    if (!asked.matches?.("button.picture")) return;
    const all = [...asked.getRootNode().querySelectorAll(".vega-embed > svg, .wrap > svg")];
    const above = all.filter((it) => it.compareDocumentPosition(asked) & Node.DOCUMENT_POSITION_FOLLOWING);
    const drawn = above.at(-1) ?? all[0];
    if (!drawn) return;
    const name = drawn.closest("[aria-label]").getAttribute("aria-label");
    const file = document.createElement("a");
    file.href = URL.createObjectURL(new Blob([picture(drawn, name)], { type: "image/svg+xml" }));
    file.download = `${name.split(",")[0].toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-")}.svg`;
    file.click();
    setTimeout(() => URL.revokeObjectURL(file.href), 60000);
  });
})();
