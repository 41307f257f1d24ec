"use strict";
// The table and the chart of the swings: each points at the other, and opens what is chosen in the frame viewer (swings.js).

function light(number, on) {
  for (const row of document.querySelectorAll("#rows tr[data-number]")) {
    if (row.dataset.number === String(number)) row.classList.toggle("lit", on);
  }
  const dot = at(`ball-${number}`);
  if (dot) dot.classList.toggle("lit", on);
}

function linkRows() {
  for (const row of document.querySelectorAll("#rows tr[data-number]")) {
    const number = row.dataset.number;
    for (const [kind, on] of [["pointerenter", true], ["pointerleave", false], ["focusin", true], ["focusout", false]]) {
      row.addEventListener(kind, () => light(number, on));
    }
  }
  for (const button of document.querySelectorAll("#rows button.open")) {
    button.addEventListener("click", () => openRow(button));
  }
  markRow();
}

function markRow() {
  for (const row of document.querySelectorAll("#rows tr")) {
    row.classList.toggle("now", swing !== null && (whole() ? row.dataset.clip === swing.clip : row.dataset.swing === swing.swing));
  }
}

function openRow(button) { return button.dataset.clip ? openClip(button.dataset.clip) : openSwing(button.dataset.swing); }

function linkDots() {
  for (const row of document.querySelectorAll("#rows tr[data-swing]")) {
    const number = row.dataset.number;
    const dot = at(`ball-${number}`);
    const spot = dot && dot.querySelector("use");
    if (!spot) continue;
    for (const [name, radius] of [["reach", 14], ["ring", 8]]) {
      const circle = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      for (const [key, value] of [["cx", spot.getAttribute("x")], ["cy", spot.getAttribute("y")], ["r", radius], ["class", name]]) {
        circle.setAttribute(key, value);
      }
      dot.append(circle);
    }
    dot.classList.add("dot");
    dot.setAttribute("tabindex", "0");
    dot.setAttribute("role", "button");
    dot.setAttribute("aria-label", `Open swing ${number}, ${row.dataset.swing}`);
    for (const [kind, on] of [["pointerenter", true], ["pointerleave", false], ["focus", true], ["blur", false]]) {
      dot.addEventListener(kind, () => light(number, on));
    }
    dot.addEventListener("click", () => openSwing(row.dataset.swing));
    dot.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); openSwing(row.dataset.swing); }
    });
  }
}

async function drawTable() {
  const answer = await fetch(`${desk.base}/swings/table`);
  if (!answer.ok) return;
  const sheet = document.createElement("template");
  sheet.innerHTML = await answer.text();
  const inFocus = document.activeElement && document.activeElement.dataset.swing;
  const missing = sheet.content.querySelector("#missing-clip");
  if (missing && at("missing-clip")) { const held = at("missing-clip").value; at("missing-clip").replaceChildren(...missing.children); at("missing-clip").value = held; }
  at("rows").replaceChildren(...sheet.content.querySelectorAll("tr"));
  at("tally").textContent = sheet.content.querySelector("p").textContent;
  linkRows();
  if (inFocus) document.querySelector(`#rows button[data-swing="${CSS.escape(inFocus)}"]`)?.focus();
}

async function drawChart() {
  if (!document.querySelector("#rows tr[data-number]")) return;
  try {
    at("chart").innerHTML = (await desk.ask("swings/chart")).svg; // drawn by the desk, from numbers
    linkDots();
  } catch (error) {
    at("chart").textContent = error.message;
  }
}
