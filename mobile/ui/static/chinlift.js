// The script of the screens. It keeps no state: the page can be thrown away
// at any time.
"use strict";
(() => {
	const root = new URL(document.baseURI);

	// On a desk a tap goes over loopback HTTP. A phone's shell posts "port" with a
	// message port, for {"n", "send"} and {"n", "answer"} as JSON text. What nobody
	// has answered goes over a later port again, and is the same event.
	const patience = 10000; // ms (common practice, no source); then it counts as lost
	const calls = new Map();
	let port, last = 0;
	addEventListener("message", (ev) => {
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

	const $ = (q, at) => (at || document).querySelector(q), body = document.body, data = body.dataset, main = $("main"), wet = $("#wet");
	const make = (tag) => document.createElement(tag);
	const all = (q, at) => [...(at || document).querySelectorAll(q)];

	// What a tray holds, where it is enabled, picked and not empty.
	const gather = (key) => {
		const fields = {}, tray = key.closest("[data-tray]");
		const add = (n, v) => { (fields[n] = fields[n] || []).push(v); };
		for (const f of tray ? all("input, select, textarea", tray) : []) {
			if (f.closest("[data-tray]") !== tray || f.disabled || !f.name || (/radio|checkbox/.test(f.type) && !f.checked) || f.value.trim() === "") continue;
			add(f.name, f.value);
		}
		// What the key itself stands for rules over what the tray holds.
		for (const [n, v] of new URLSearchParams(key.dataset.set || "")) fields[n] = [v];
		return fields;
	};

	const say = (text, trouble) => {
		const n = $("#notice");
		n.textContent = text || "";
		n.className = trouble ? "trouble" : "";
	};

	// A bounce of the thumb must not reach what came to lie under it. The times
	// of deafness, here and below, are house choices, no source.
	const guard = (ms) => {
		clearTimeout(guard.timer);
		data.guard = "";
		guard.timer = setTimeout(() => { delete data.guard; }, ms);
	};

	const named = (n, v) => `[${n}="${CSS.escape(v)}"]`;
	const focus = (key, at) => {
		const k = $(named("data-key", key), at);
		if (k) k.focus({ preventScroll: true });
	};

	const patch = (p) => {
		const old = document.getElementById(p.id);
		if (!old) return;
		const held = old.contains(document.activeElement) ? document.activeElement.dataset.key : "";
		const t = make("template");
		t.innerHTML = p.html;
		const fresh = t.content.firstElementChild;
		old.replaceWith(fresh);
		if (held) focus(held, fresh);
	};

	// A tray is laid over its page, which stays beneath.
	let over;
	const close = () => {
		if (!over) return;
		over.remove();
		over = null;
		say("");
		body.classList.remove("laid");
		scrollTo(0, 0);
		guard(350);
		focus(data.from, main);
	};
	const leave = () => { if (history.state && history.state.tray) history.back(); else close(); };
	addEventListener("popstate", close);
	const lay = async (link) => {
		const to = new URL(link.href);
		lay.last = link;
		data.from = over ? data.from : link.dataset.key;
		try {
			const r = await fetch(to.href + (to.search ? "&" : "?") + "layer=1");
			const text = await r.text();
			if (!r.ok || !text.includes('id="tray"')) throw new Error(text);
			if (lay.last !== link) return; // another was asked for since
			const first = !over;
			if (first) { over = make("div"); over.id = "over"; main.append(over); }
			say("");
			over.innerHTML = text;
			over.dataset.path = "/" + to.pathname.slice(root.pathname.length);
			body.classList.add("laid");
			history[first ? "pushState" : "replaceState"]({ tray: 1 }, "", to.href);
			scrollTo(0, 0);
			guard(350);
		} catch { location.assign(link.href); }
	};

	// Patches lead from one drawing of the page to the next. Where the page no
	// longer shows the one that they lead from, it is asked for in full.
	const settle = (a) => {
		if (a.from ? String(a.from) === data.base : a.base > +data.base) {
			for (const p of a.patches || []) patch(p);
			data.base = a.base;
		} else if (a.base > +data.base) fresh(0);
		data.seq = Math.max(a.seq, data.seq);
		due();
	};

	const send = async (key, extra) => {
		// A tap that failed keeps its id: the next is a retry.
		if (key.getAttribute("aria-busy") === "true") return;
		key.setAttribute("aria-busy", "true");
		say("");
		const fields = Object.assign(gather(key), extra), d = data;
		const laid = over && over.contains(key) ? over : null, at = laid && laid.dataset.path;
		let a;
		try {
			a = await transport({
				path: at || d.path, under: laid ? d.path : "", case: key.dataset.case || "",
				fields, event: key.dataset.event, base: +d.base, page: d.page,
			});
		} catch {
			a = { problem: { words: d.lost }, unsure: 1 };
		}
		key.removeAttribute("aria-busy");
		if (a.unsure) key.dataset.unsure = ""; else delete key.dataset.unsure;
		if (a.problem) {
			say(a.problem.words, true);
			const f = a.problem.field && $(named("name", a.problem.field));
			if (f) f.setAttribute("aria-invalid", "true");
			return;
		}
		if (a.go) { location.assign(new URL(a.go, root)); return; }
		if (a.event) key.dataset.event = a.event;
		guard(350);
		// A bounce must not skip a phase, nor take back what was just undone.
		if (/next-phase|undo|redo/.test(key.dataset.key)) {
			data.deaf = "";
			setTimeout(() => { delete data.deaf; }, 1500);
		}
		if (a.close && laid === over && over && over.dataset.path === at) leave();
		settle(a);
	};

	// What changes with the time alone. While a tap waits for its answer, or got
	// none, nothing is drawn anew: its key must keep its event, to be a retry.
	const open = "[aria-busy=true], [data-unsure]";
	const fresh = async (base) => {
		if (!("live" in data) || document.hidden) return;
		if ($(open)) { data.stale = ""; return; }
		try {
			const r = await fetch(new URL(data.path.slice(1) + `?fresh=${data.page}&base=${base === 0 ? 0 : data.base}`, root)), a = await r.json();
			if (a.problem) throw a;
			delete data.stale;
			if (!$(open)) settle(a);
		} catch { data.stale = ""; }
	};
	setInterval(fresh, 15000); // ms, house choice
	document.addEventListener("visibilitychange", fresh);

	// Something is due: told when its time comes, and each minute while it is
	// over; what is over as the page opens, a quarter of a minute later. When and
	// how it sounds is a house choice, no source.
	const ahead = data.now - Date.now();
	let told = Date.now() + ahead - 45000, context;
	const unlock = () => {
		try { (context = context || new AudioContext()).resume(); } catch { context = null; }
	};
	const alarm = () => {
		data.alarms = +(data.alarms || 0) + 1;
		if ("buzz" in data && navigator.vibrate) navigator.vibrate([200, 100, 200]);
		if (!("sound" in data) || !context) return;
		data.sounds = +(data.sounds || 0) + 1;
		const o = context.createOscillator();
		o.frequency.value = 660;
		o.connect(context.destination);
		o.start();
		o.stop(context.currentTime + 0.3);
	};
	const due = () => {
		clearTimeout(due.timer);
		const now = Date.now() + ahead, times = all("[data-at]").map((e) => +e.dataset.at);
		if (!times.length || !("live" in data)) return;
		const next = Math.min(...times.map((t) => (t > told ? t : told + 60000)));
		due.timer = setTimeout(() => { told = Date.now() + ahead; alarm(); fresh(); due(); }, Math.max(0, next - now));
	};

	// A row is sent only if touched.
	const setRow = (row, value) => {
		const input = $("input", row), none = value === null;
		input.value = none ? "" : String(Math.round(value * 10) / 10);
		input.disabled = none;
		row.classList.toggle("touched", !none);
		$("output", row).textContent = input.value;
		for (const k of all("[data-val]", row)) k.setAttribute("aria-pressed", String(!none && +k.dataset.val === +input.value));
		const key = $(".record", row.closest("[data-tray]"));
		const small = $("small", key) || key.appendChild(make("small"));
		small.textContent = all(".measure.touched").map((r) => r.dataset.label + " " + $("input", r).value).join(" · ");
		const shown = $(".fine output");
		if (shown) shown.textContent = input.value || "—";
	};

	const button = (text, set, label) => {
		const b = make("button");
		b.type = "button";
		b.className = "key";
		b.textContent = text;
		Object.assign(b.dataset, set);
		if (label) b.setAttribute("aria-label", label);
		return b;
	};

	// The picker of a row.
	const pick = (row) => {
		const sheet = row.closest(".sheet"), fine = $(".fine", sheet), d = row.dataset, open = fine.hidden;
		sheet.classList.toggle("picking", open);
		fine.hidden = !open;
		for (const r of all(".measure", sheet)) r.classList.toggle("picked", open && r === row);
		$("[data-open]", row).setAttribute("aria-expanded", String(open));
		fine.textContent = "";
		if (!open) return;
		const line = (cls, ...keys) => {
			const l = make("div");
			l.className = cls;
			l.append(...keys);
			fine.append(l);
		};
		const out = make("output"), tens = [], ones = [], step = +d.coarse, f = fine.dataset;
		out.textContent = $("input", row).value || d.last || "—";
		line("stepper", button("−" + d.fine, { nudge: -d.fine }, f.less.replace("{what}", d.label)), out, button("+" + d.fine, { nudge: d.fine }, f.more.replace("{what}", d.label)));
		for (let n = +d.low; n <= d.high; n += step) tens.push(button(n, { tens: n }));
		for (let i = 0; i < 10; i++) ones.push(button(step > 1 ? i : "." + i, { ones: i * d.grain }));
		line("tens", ...tens);
		line("ones", ...ones);
		const last = [button(f.done, { open: "" })];
		if (/pulse|breaths/.test(d.measure)) last.unshift(button(f.along, { beat: d.measure }));
		line("row", ...last);
		guard(350);
	};

	// A rate by tapping along.
	let beats = [];
	const beat = (key, at) => {
		// After a pause much longer than the beats before a new count begins
		// (house choices: 15 s, and two and a half beats).
		const gap = at - beats[beats.length - 1], mean = (beats[beats.length - 1] - beats[0]) / (beats.length - 1);
		if (beats.key !== key || gap > 15000 || beats.length > 2 && gap > 2.5 * mean) { beats = []; beats.key = key; }
		beats.push(at);
		beats = Object.assign(beats.slice(-9), { key });
		if (beats.length < 4) { key.dataset.beats = beats.length; return; }
		const rate = Math.round(60000 * (beats.length - 1) / (at - beats[0]));
		key.dataset.beats = rate + "/min";
		const row = $(".measure.picked");
		if (row) { setRow(row, rate); return; }
		const input = $(named("name", key.dataset.beat), key.parentElement);
		input.disabled = false;
		input.value = rate;
	};

	const digit = (d) => {
		const pad = d.closest("[data-digits]"), input = $(named("name", pad.dataset.digits), d.closest("[data-tray]")), c = d.dataset.digit;
		if (c === "back") input.value = input.value.slice(0, -1);
		else if (input.value.length < input.maxLength && !(c === "." && input.value.includes("."))) input.value += c;
	};

	// A wet cloth over the glass writes nothing.
	const wipe = () => {
		wet.hidden = false;
		setTimeout(() => { wet.hidden = true; guard(350); }, 10000);
	};

	const keys = "send nudge val tens ones open digit same layer leave wipe beat".split(" ").map((n) => `[data-${n}]`).join() + ",.pick";
	addEventListener("click", (ev) => {
		unlock();
		if (!wet.hidden) { ev.preventDefault(); ev.stopPropagation(); return; }
		const t = ev.target.closest("a[href], " + keys);
		if (!t) return;
		const d = t.dataset;
		if ("guard" in data && !("digit" in d || "beat" in d || "nudge" in d)) { ev.preventDefault(); return; }
		if (t.matches(".pick")) {
			// A second tap takes it back.
			const f = $("input[type=radio]", t), was = f && f.dataset.was;
			if (ev.target !== f) return;
			for (const o of all(named("name", f.name), t.closest("[data-tray]"))) delete o.dataset.was;
			if (was) setTimeout(() => { f.checked = false; }); else f.dataset.was = 1;
			return;
		}
		if (!t.matches(keys)) return;
		if ("deaf" in data && /next-phase|undo|redo/.test(d.key)) { ev.preventDefault(); return; }
		if ("leave" in d && !over) return;
		ev.preventDefault();
		const row = t.closest(".measure") || $(".measure.picked"), now = () => +($("input", row).value || row.dataset.last || 0);
		if ("send" in d) send(t);
		else if ("layer" in d) lay(t);
		else if ("leave" in d) leave();
		else if ("wipe" in d) wipe();
		else if ("digit" in d) digit(t);
		else if ("beat" in d) beat(t, ev.timeStamp);
		else if ("open" in d) pick(row);
		else if ("val" in d) setRow(row, t.getAttribute("aria-pressed") === "true" ? null : +d.val);
		else if ("nudge" in d) { if ($("input", row).value || row.dataset.last) setRow(row, Math.max(0, now() + +d.nudge)); }
		else if ("tens" in d) setRow(row, +d.tens);
		else if ("ones" in d) { if ($("input", row).value) { setRow(row, Math.floor(now() / row.dataset.coarse + 1e-9) * row.dataset.coarse + +d.ones); pick(row); } }
		else if ("same" in d) {
			const tray = t.closest("[data-tray]"), values = { looked_same: ["yes"], same: [] };
			for (const r of all("[data-same-value]:not(.touched)", tray)) { values[r.dataset.measure] = [r.dataset.sameValue]; values.same.push(r.dataset.measure); }
			send($(".record", tray), values);
		}
	}, true);

	// A file that was picked goes as text, with its name; a photograph goes by
	// itself, and the page is drawn anew with it. Picked again, it is a retry.
	addEventListener("change", async ({ target: t }) => {
		const f = t.files && t.files[0], tray = t.closest("[data-tray]"), to = t.dataset.to;
		if (to && f) {
			try {
				const { problem: p } = await (await fetch(new URL(to, root), { method: "POST", body: f })).json();
				if (p) say(p.words, true); else location.reload();
			} catch { say(data.lost, true); }
			t.value = "";
		} else if (f && f.size < 2e5) {
			$("[name=file]", tray).value = f.name;
			$("textarea", tray).value = await f.text();
		}
	});

	due();
})();
