"use strict";

function shown(text, mediaType) {
  if (mediaType.startsWith("image/svg+xml")) {
    const image = document.createElement("img");
    image.alt = "Drawing of the answer";
    image.src = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
    return image;
  }
  const block = document.createElement("pre");
  block.tabIndex = 0;
  block.textContent = /^application\/(problem\+)?json/.test(mediaType)
    ? JSON.stringify(JSON.parse(text), null, 2)
    : text;
  return block;
}

async function send(form) {
  const output = form.querySelector("output");
  output.textContent = "Under way …";
  const headers = { Accept: form.elements.accept.value };
  const key = document.getElementById("api-key").value.trim();
  if (key) headers["X-API-Key"] = key;
  const request = { method: form.dataset.method, headers };
  if (form.elements.body) {
    headers["Content-Type"] = form.dataset.mediaType;
    request.body = form.elements.body.value;
  }
  const started = performance.now();
  try {
    const response = await fetch(form.elements.url.value, request);
    const text = await response.text();
    const line = document.createElement("p");
    const took = Math.round(performance.now() - started);
    line.textContent =
      `${response.status}, ${took} ms, request id ${response.headers.get("x-request-id")}`;
    output.replaceChildren(line, shown(text, response.headers.get("content-type") || ""));
  } catch (error) {
    output.textContent = `No answer: ${error.message}`;
  }
}

function open(hash) {
  const target = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
  if (target && target.tagName === "DETAILS") {
    target.open = true;
    target.scrollIntoView();
  }
}

document.addEventListener("submit", (event) => {
  event.preventDefault();
  send(event.target);
});
window.addEventListener("hashchange", () => open(location.hash));
open(location.hash);
