"use strict";
// What all pages share: talking to the desk. Every answer is JSON; what went wrong comes as one or more lines.

const desk = {
  base: document.body.dataset.base,
  open: 0, // questions that the desk has not answered yet

  async ask(path, method = "GET", body = undefined) {
    document.body.setAttribute("aria-busy", String(++desk.open > 0));
    try { return await desk.answered(path, method, body); }
    finally { document.body.setAttribute("aria-busy", String(--desk.open > 0)); }
  },

  async answered(path, method, body) {
    let answer;
    try {
      answer = await fetch(`${desk.base}/${path}`, {
        method,
        headers: { accept: "application/json", ...(body === undefined ? {} : { "content-type": "application/json" }) },
        body: body === undefined ? undefined : JSON.stringify(body),
      });
    } catch {
      throw new Error("The desk does not answer; is balltrack desk still running?");
    }
    let said;
    try { said = await answer.json(); } catch { said = {}; }
    if (!answer.ok) {
      const error = new Error(said.error || `The desk could not do that (${answer.status}).`);
      error.status = answer.status;
      throw error;
    }
    return said;
  },

  say(element, words, kind = "") {
    element.textContent = words;
    element.className = kind;
  },
};
