// Chinlift: the script of the screens. It keeps no state: what is recorded
// lies on the other side, and the page can be thrown away at any time.
"use strict";
(() => {
  const root = new URL(document.baseURI);
  const notice = () => document.getElementById("notice");

  // One call carries every tap. On a desk it is loopback HTTP. A phone opens no
  // socket: once the page is loaded its shell posts "port" with a message port,
  // over which go {"n", "send"} and the answer {"n", "answer"}, as JSON text.
  // A port lent later takes the place of the one before. What nobody has
  // answered goes over it again, and is the same event.
  const patience = 10000; // ms; then the tap counts as lost, and may be tried again
  const calls = new Map();
  let port, last = 0;
  window.addEventListener("message", (ev) => {
    if (ev.data !== "port" || !ev.ports[0]) return;
    port = ev.ports[0];
    port.onmessage = (m) => {
      const { n, answer } = JSON.parse(m.data);
      if (calls.has(n)) calls.get(n).settle(answer);
    };
    for (const c of calls.values()) port.postMessage(c.text);
  });
  const overPort = (send) => new Promise((resolve, reject) => {
    const n = ++last, text = JSON.stringify({ n, send });
    const settle = (answer) => {
      calls.delete(n);
      clearTimeout(timer);
      if (answer) resolve(answer); else reject(new Error("no answer"));
    };
    const timer = setTimeout(settle, patience);
    calls.set(n, { text, settle });
    if (port) port.postMessage(text);
  });

  const transport = async (send) => {
    if (root.protocol !== "http:") return overPort(send);
    const r = await fetch(new URL("send", root), {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(send),
    });
    return r.json();
  };

  // What a tray holds: every field that is enabled, picked and not empty.
  const gather = (key) => {
    const fields = {};
    const add = (n, v) => { (fields[n] = fields[n] || []).push(v); };
    const tray = key.closest("[data-tray]");
    for (const f of tray ? tray.querySelectorAll("input, textarea") : []) {
      if (f.disabled || !f.name || (/radio|checkbox/.test(f.type) && !f.checked) || f.value.trim() === "") continue;
      add(f.name, f.value);
    }
    for (const [n, v] of new URLSearchParams(key.dataset.set || "")) add(n, v);
    return fields;
  };

  const say = (text, trouble) => {
    const n = notice();
    n.textContent = text || "";
    n.className = trouble ? "trouble" : "";
  };

  const patch = (p) => {
    const old = document.getElementById(p.id);
    if (!old) return;
    const held = document.activeElement && old.contains(document.activeElement) ? document.activeElement.dataset.key : "";
    const t = document.createElement("template");
    t.innerHTML = p.html;
    const fresh = t.content.firstElementChild;
    old.replaceWith(fresh);
    if (held) { const k = fresh.querySelector(`[data-key="${CSS.escape(held)}"]`); if (k) k.focus({ preventScroll: true }); }
  };

  const send = async (key, extra) => {
    // While a tap is under way its key takes no other: a bounce of the thumb
    // is one event. A tap that failed keeps its id, and so is a retry.
    if (key.getAttribute("aria-busy") === "true") return;
    key.setAttribute("aria-busy", "true");
    say("");
    const fields = gather(key);
    for (const n in extra || {}) fields[n] = extra[n];
    let a;
    try {
      a = await transport({ path: document.body.dataset.path, fields, event: key.dataset.event, base: Number(document.body.dataset.base) });
    } catch {
      a = { problem: { words: document.body.dataset.lost } };
    }
    key.removeAttribute("aria-busy");
    if (a.problem) {
      say(a.problem.words, true);
      const f = a.problem.field && document.querySelector(`[name="${CSS.escape(a.problem.field)}"]`);
      if (f) f.setAttribute("aria-invalid", "true");
      return;
    }
    if (a.go) { location.assign(new URL(a.go, root)); return; }
    if (a.event) key.dataset.event = a.event;
    for (const p of a.patches || []) patch(p);
    document.body.dataset.base = a.seq;
    document.body.dataset.seq = a.seq;
  };

  // A row of a tray: grey until touched; only what was touched is sent.
  const setRow = (row, value) => {
    const strip = row.querySelector("[data-strip]"), input = row.querySelector("input");
    const low = Number(strip.dataset.low), high = Number(strip.dataset.high);
    input.value = String(Math.round(value * 10) / 10);
    input.disabled = false;
    row.classList.add("touched");
    row.querySelector("output").textContent = input.value;
    strip.querySelector("i").style.width = Math.max(0, Math.min(100, (value - low) / (high - low) * 100)) + "%";
    summary(row.closest("[data-tray]"));
  };

  // The record key repeats in words what it will write.
  const summary = (tray) => {
    const key = tray && tray.querySelector(".record");
    if (!key) return;
    const words = [...tray.querySelectorAll(".measure.touched")].map((r) => r.dataset.label + " " + r.querySelector("input").value);
    let small = key.querySelector("small");
    if (!small) key.append(small = document.createElement("small"));
    small.textContent = words.join(" · ");
  };

  const start = (row) => {
    const strip = row.querySelector("[data-strip]"), input = row.querySelector("input");
    if (!input.disabled) return Number(input.value);
    if (strip.dataset.last) return Number(strip.dataset.last);
    return (Number(strip.dataset.low) + Number(strip.dataset.high)) / 2;
  };

  const digit = (d) => {
    const pad = d.closest("[data-digits]");
    const input = d.closest("[data-tray]").querySelector(`[name="${CSS.escape(pad.dataset.digits)}"]`);
    const c = d.dataset.digit;
    if (c === "back") input.value = input.value.slice(0, -1);
    else if (input.value.length < input.maxLength && !(c === "." && input.value.includes("."))) input.value += c;
  };

  document.addEventListener("click", (ev) => {
    const t = ev.target.closest("[data-send], [data-nudge], [data-strip], [data-digit], [data-same]");
    if (!t) return;
    ev.preventDefault();
    const row = t.closest(".measure");
    if ("send" in t.dataset) send(t);
    else if ("digit" in t.dataset) digit(t);
    else if ("nudge" in t.dataset) setRow(row, start(row) + Number(t.dataset.nudge));
    else if ("same" in t.dataset) {
      const tray = t.closest("[data-tray]"), values = {};
      for (const r of tray.querySelectorAll(".measure")) {
        const last = r.querySelector("[data-strip]").dataset.last;
        if (last && !r.classList.contains("touched")) values[r.dataset.measure] = [last];
      }
      values.looked_same = ["yes"];
      send(tray.querySelector(".record"), values);
    } else {
      const box = t.getBoundingClientRect(), step = Number(t.dataset.step);
      const low = Number(t.dataset.low), high = Number(t.dataset.high);
      const at = ev.detail === 0 ? start(row) : low + (ev.clientX - box.left) / box.width * (high - low);
      setRow(row, Math.max(low, Math.min(high, Math.round(at / step) * step)));
    }
  });

  document.body.dataset.seq = document.body.dataset.base;
})();
