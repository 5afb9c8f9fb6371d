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
    if (!form.elements.body.value) await exemplify(form.closest("details"));
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

let loading = null;
/* The schema is the page's larger half: it is asked for when something is opened or searched. */
function schema() {
  loading ||= fetch("/openapi.json").then((response) => response.json());
  return loading;
}

function made(tag, text = "", attributes = {}) {
  const element = document.createElement(tag);
  element.textContent = text;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

const lastOf = (ref) => ref.split("/").pop();

function limits(one, low, high, unit) {
  const bounds = [one[low], one[high]].filter((bound) => bound !== undefined);
  return bounds.length ? ` (${bounds.join(" to ")}${unit ? ` ${unit}` : ""})` : "";
}

const words = { integer: "whole number", string: "text", boolean: "true or false" };

/* What a schema takes, in words and links. */
function kind(one) {
  if (one.$ref) return [made("a", lastOf(one.$ref), { href: `#type-${lastOf(one.$ref)}` })];
  const choices = one.anyOf || one.oneOf;
  if (choices) return choices.flatMap((choice, n) => [...(n ? [" or "] : []), ...kind(choice)]);
  if (one.enum) return [`one of ${one.enum.join(", ")}`];
  if (one.type === "array") {
    return [`list${limits(one, "minItems", "maxItems")} of `, ...kind(one.items || {})];
  }
  const types = [one.type || "any"].flat().map((type) => words[type] || type).join(" or ");
  const unit = one["x-unit"] === "1" ? "" : one["x-unit"];
  const bounds =
    limits(one, "minimum", "maximum", unit) || limits(one, "minLength", "maxLength", "characters");
  return [types + bounds];
}

async function describe(details) {
  const name = details.id.slice("type-".length);
  const one = (await schema()).components.schemas[name];
  if (!one.properties) {
    const line = made("p");
    line.append(...kind(one));
    details.append(line);
    return;
  }
  const table = made("table");
  table.append(made("caption", `Fields of ${name}`));
  const head = table.createTHead().insertRow();
  for (const column of ["Field", "Holds", "Meaning"]) {
    head.append(made("th", column, { scope: "col" }));
  }
  const body = table.createTBody();
  for (const [field, content] of Object.entries(one.properties)) {
    const row = body.insertRow();
    const title = made("th", "", { scope: "row" });
    title.append(made("code", field));
    if ((one.required || []).includes(field)) title.append(" ", made("em", "required"));
    const holds = made("td");
    holds.append(...kind(content));
    row.append(title, holds, made("td", content.description || ""));
  }
  details.append(table);
}

function block(name, text) {
  const figure = made("figure");
  const title = made("figcaption", name);
  const copy = made("button", "Copy", { type: "button", "aria-label": `Copy ${name}` });
  copy.addEventListener("click", async () => {
    await navigator.clipboard.writeText(text);
    copy.textContent = "Copied";
  });
  title.append(" ", copy);
  figure.append(title, made("pre", text, { tabindex: "0" }));
  return figure;
}

const quoted = (text) => `'${text.replaceAll("'", "'\\''")}'`;

/* The same call for three readers; `body` is JSON or nothing. */
function snippets(form, id) {
  const address = new URL(form.elements.url.value, location.href);
  const body = form.elements.body?.value;
  const type = form.dataset.mediaType;
  const method = form.dataset.method;
  const curl = ["curl -s", quoted(address.href)];
  if (body) curl.push(`-H ${quoted(`Content-Type: ${type}`)} -d ${quoted(body)}`);
  const asked = [...address.searchParams].map(([name, value]) =>
    `${name}=${isNaN(Number(value)) ? JSON.stringify(value) : value}`);
  let python = `import httpx\n\nprint(httpx.get(${JSON.stringify(address.href)}).text)`;
  const client = `Client(${JSON.stringify(address.origin)})`;
  if (body && type === "application/json") {
    python = `import json\nfrom sunhitch import Client\n\n`
      + `request = json.loads(r"""${body}""")\nprint(${client}.${id}(request).verdict)`;
  } else if (body) {
    python = `import httpx\n\nlines = r"""${body}"""\n`
      + `headers = {"Content-Type": "${type}"}\n`
      + `print(httpx.post(${JSON.stringify(address.href)}, content=lines, headers=headers).text)`;
  } else if (id.startsWith("quick_") && id !== "quick_questions") {
    python = `from sunhitch import Client\n\n`
      + `print(${client}.quick.${id.slice("quick_".length)}(${asked.join(", ")}))`;
  }
  const options = body
    ? `, {\n  method: "${method}",\n  headers: { "Content-Type": "${type}" },\n`
      + `  body: ${type === "application/json" ? `JSON.stringify(${body})` : JSON.stringify(body)},\n}`
    : "";
  const script = `const response = await fetch(${JSON.stringify(address.href)}${options});\n`
    + `console.log(await response.text());`;
  return [block("curl", curl.join(" ")), block("Python", python), block("TypeScript", script)];
}

const textOf = (value) => (typeof value === "string" ? value : JSON.stringify(value, null, 2));

async function exemplify(details) {
  const form = details.querySelector("form");
  const call = (await schema()).paths[form.dataset.path][form.dataset.method.toLowerCase()];
  const examples = (content) => Object.values(content?.examples || {}).map((one) => one.value);
  const given = call.requestBody?.content[form.dataset.mediaType];
  if (given && !form.elements.body.value) {
    form.elements.body.value = textOf(examples(given)[0] ?? "");
  }
  const blocks = snippets(form, details.id.slice("call-".length));
  for (const [mediaType, content] of Object.entries(call.responses["200"].content || {})) {
    for (const value of examples(content)) {
      blocks.push(block(`Answer, ${mediaType}`, textOf(value)));
    }
  }
  details.querySelector(".examples").replaceChildren(...blocks);
}

async function search(text) {
  const found = document.getElementById("found");
  const wanted = text.trim().toLowerCase();
  if (wanted.length < 2) return found.replaceChildren();
  const document_ = await schema();
  const hits = [];
  for (const details of document.querySelectorAll("details.call")) {
    if (details.textContent.toLowerCase().includes(wanted)) {
      hits.push([details.id, details.querySelector("summary").textContent]);
    }
  }
  for (const [name, one] of Object.entries(document_.components.schemas)) {
    const fields = Object.entries(one.properties || {}).filter(([field, content]) =>
      `${field} ${content.description || ""}`.toLowerCase().includes(wanted));
    if (fields.length || `${name} ${one.description || ""}`.toLowerCase().includes(wanted)) {
      hits.push([`type-${name}`, [name, ...fields.map(([field]) => field)].join(", ")]);
    }
  }
  found.replaceChildren(...hits.slice(0, 40).map(([id, told]) => {
    const line = made("li");
    line.append(made("a", told, { href: `#${id}` }));
    return line;
  }));
}

const filled = new WeakSet();
document.addEventListener("toggle", (event) => {
  const details = event.target;
  if (!details.open || filled.has(details)) return;
  filled.add(details);
  (details.className === "type" ? describe : exemplify)(details);
}, true);
document.addEventListener("change", (event) => {
  const details = event.target.closest("details.call");
  if (details && event.target.closest("form")) exemplify(details);
});
document.getElementById("search").addEventListener("input", (event) => search(event.target.value));

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
