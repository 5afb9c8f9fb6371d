"use strict";

const MOST = 12;
let sections;

async function look(words) {
  sections ??= await (await fetch("/guide/search.json")).json();
  const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
  const rank = ({ title, text }) => {
    const [head, whole] = [title.toLowerCase(), `${title} ${text}`.toLowerCase()];
    if (!wanted.every((word) => whole.includes(word))) return 0;
    return 1 + wanted.filter((word) => head.includes(word)).length;
  };
  return sections
    .map((section) => ({ section, worth: rank(section) }))
    .filter(({ worth }) => worth > 0)
    .sort((one, other) => other.worth - one.worth)
    .slice(0, MOST);
}

function line({ section }) {
  const item = document.createElement("p");
  const link = document.createElement("a");
  link.href = section.address;
  link.textContent = section.title;
  item.append(link, ` ${section.text.slice(0, 140)}`);
  return item;
}

const form = document.querySelector("form[role=search]");
const found = document.getElementById("found");
async function show(event) {
  event.preventDefault();
  const words = form.elements.words.value.trim();
  found.hidden = words.length < 2;
  if (found.hidden) return;
  const hits = await look(words);
  found.replaceChildren(...(hits.length ? hits.map(line) : ["Nothing found."]));
}

form.addEventListener("submit", show);
form.addEventListener("input", show);
