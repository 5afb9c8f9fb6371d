// A page of another origin that configures a fit-out, with nothing but what the schema generates.
import createClient from "openapi-fetch";
import fitOutExample from "./fit-out.json";
import harvestExample from "./harvest.json";
import type { components, paths } from "./schema.js";

type Schemas = components["schemas"];
type Json = string | number | boolean | null | Json[] | { [name: string]: Json };

const service = new URLSearchParams(location.search).get("service") ?? "";
const client = createClient<paths>({
  baseUrl: service,
  querySerializer: { array: { style: "form", explode: false } },
});
const pictures = ["roof-plan", "wiring-diagram"] as const;
let running: AbortController | null = null;

function element<T extends HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (!found) throw new Error(`no ${id}`);
  return found as T;
}

const fields = [...document.querySelectorAll<HTMLInputElement>("input[data-pointer]")];

function inner(body: Json, pointer: string): [Record<string, Json>, string] {
  const names = pointer.split("/").slice(1);
  const last = names.pop() ?? "";
  const holder = names.reduce((part, name) => (part as Record<string, Json>)[name] ?? {}, body);
  return [holder as Record<string, Json>, last];
}

function configured(): Schemas["FitOutRequest"] {
  const body = structuredClone(fitOutExample) as Json;
  for (const field of fields) {
    const [holder, name] = inner(body, field.dataset["pointer"] ?? "");
    holder[name] = typeof holder[name] === "number" ? Number(field.value) : field.value;
  }
  return body as unknown as Schemas["FitOutRequest"];
}

function showFaults(problem: Schemas["Problem"] | undefined): void {
  for (const old of document.querySelectorAll(".fault")) old.remove();
  for (const field of fields) field.removeAttribute("aria-invalid");
  element("elsewhere").textContent = "";
  const faults = problem?.errors ?? [];
  for (const fault of faults) {
    const field = fields.find((one) => one.dataset["pointer"] === fault.pointer);
    if (!field) {
      element("elsewhere").textContent += `${fault.pointer}: ${fault.message} `;
      continue;
    }
    const note = document.createElement("span");
    note.className = "fault";
    note.textContent = fault.message;
    field.setAttribute("aria-invalid", "true");
    field.after(note);
  }
  if (problem && faults.length === 0) element("elsewhere").textContent = problem.detail ?? "";
}

async function check(): Promise<void> {
  const body = configured();
  const query = { checks: "open", fields: ["summary", "checks"] } as const;
  const told = await client.POST("/v1/fit-out", {
    body,
    params: { query: { ...query, fields: [...query.fields] } },
  });
  showFaults(told.error);
  element("open").replaceChildren();
  element("pictures").replaceChildren();
  if (told.error) return;
  const answer = told.data as Schemas["FitOutAnswerPart"];
  element("verdict").textContent = answer.verdict;
  for (const one of answer.checks ?? []) {
    const line = document.createElement("li");
    line.textContent = `${one.verdict}: ${one.title}. ${one.remedy}`;
    element("open").append(line);
  }
  for (const view of pictures) {
    const drawn = await client.POST("/v1/fit-out", {
      body,
      params: { query: { view } },
      headers: { Accept: "image/svg+xml" },
      parseAs: "text",
    });
    const svg = new DOMParser().parseFromString(String(drawn.data), "image/svg+xml");
    element("pictures").append(svg.documentElement);
  }
}

async function* lines(body: ReadableStream<Uint8Array>): AsyncGenerator<Schemas["HarvestLine"]> {
  const reader = body.getReader();
  const decoder = new TextDecoder();
  let rest = "";
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    const pieces = (rest + decoder.decode(part.value, { stream: true })).split("\n");
    rest = pieces.pop() ?? "";
    for (const line of pieces) yield JSON.parse(line) as Schemas["HarvestLine"];
  }
}

async function year(): Promise<void> {
  const shown = element<HTMLProgressElement>("progress");
  running = new AbortController();
  element<HTMLButtonElement>("cancel").disabled = false;
  shown.hidden = false;
  try {
    const response = await fetch(`${service}/v1/harvest`, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/x-ndjson" },
      body: JSON.stringify(harvestExample),
      signal: running.signal,
    });
    if (!response.body) return;
    for await (const line of lines(response.body)) {
      switch (line.kind) {
        case "progress":
          shown.max = line.total;
          shown.value = line.done;
          break;
        case "answer":
          element("verdict").textContent = line.answer.verdict;
          break;
        case "problem":
          showFaults(line.problem);
      }
    }
  } catch (error) {
    if (!running.signal.aborted) throw error;
    element("verdict").textContent = "cancelled";
  } finally {
    element<HTMLButtonElement>("cancel").disabled = true;
    shown.hidden = true;
  }
}

for (const field of fields) {
  const [holder, name] = inner(fitOutExample as Json, field.dataset["pointer"] ?? "");
  field.value = String(holder[name] ?? "");
}
document.querySelector("form")?.addEventListener("submit", (event) => {
  event.preventDefault();
  void check();
});
element("year").addEventListener("click", () => void year());
element("cancel").addEventListener("click", () => running?.abort());
