// Says what the styles, the script and the pages use that a web view at the
// floor does not have, by the browser-compat-data of MDN:
//
//   node floor.mjs <folder with node_modules> <chromium> <ios> <ecma> <file>...
//
// It prints a list of {file, line, feature, android, ios}: the feature as the
// data names it, and what each web view would need to be ("no": has it in no
// version). A file is read by its ending: .css, .js or .html.
//
// What a name cannot tell is taken as the worst: gap is gap in a flex box, and
// a word in a style is every feature of its property of that name. A member in
// the script passes when any object of the platform has one of that name.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { basename, extname, resolve } from "node:path";

const [modules, chromium, ios, ecma, ...files] = process.argv.slice(2);
const load = createRequire(resolve(modules, "package.json"));
const data = load("@mdn/browser-compat-data"), csstree = load("css-tree"), acorn = load("acorn"), walk = load("acorn-walk");
const floor = { webview_android: Number(chromium), webview_ios: Number(ios) };

// The version from which one web view has a feature; prefix: as it is written.
const since = (compat, view, prefix) => {
  const all = [compat.support[view] ?? []].flat();
  const fit = all.filter((s) => s.version_added && s.version_added !== "preview" && !s.flags && !s.version_removed && !s.alternative_name && (s.prefix ?? "") === prefix);
  return Math.min(...fit.map((s) => Number(s.version_added.replace("≤", "")) || 0));
};

// What a feature lacks at the floor, or nothing.
const lacks = (node, prefix = "") => {
  const need = Object.fromEntries(Object.keys(floor).map((v) => [v, since(node.__compat, v, prefix)]));
  if (Object.keys(floor).every((v) => need[v] <= floor[v])) return null;
  const say = (n) => (n === Infinity ? "no" : String(n));
  return { android: say(need.webview_android), ios: say(need.webview_ios) };
};
const unknown = { android: "not known", ios: "not known" };

let found = [], file = "";
const note = (line, feature, lack) => { if (lack) found.push({ file, line, feature, ...lack }); };

// Every feature below a node of the data whose own key is this name.
const named = (node, at, name, out = []) => {
  for (const [k, v] of Object.entries(node)) {
    if (k === "__compat" || typeof v !== "object") continue;
    if (k === name && v.__compat) out.push([at + "." + k, v]);
    named(v, at + "." + k, name, out);
  }
  return out;
};
const units = { dv: "viewport_percentage_units_dynamic", lv: "viewport_percentage_units_large", sv: "viewport_percentage_units_small", cq: "container_query_length_units" };

// What one declaration uses that is not there.
const declaration = (d) => {
  const out = [], add = (feature, lack) => { if (lack) out.push([feature, lack]); };
  const [, prefix, bare] = /^(-webkit-|)(.*)$/.exec(d.property), props = data.css.properties;
  const at = "css.properties." + (props[d.property] ? d.property : bare);
  let prop = props[d.property] ?? props[bare];
  if (d.property.startsWith("--")) prop = {}; // ours; only its value is looked at
  else if (!prop) { add("css.properties." + d.property, unknown); return out; }
  else add(at, lacks(prop, props[d.property] ? "" : prefix));
  if (prop.flex_context) add(at + ".flex_context", lacks(prop.flex_context));
  csstree.walk(d.value, (n) => {
    if (n.type === "Identifier" || n.type === "Function") {
      const [, pre, name] = /^(-webkit-|)(.*)$/.exec(n.name.toLowerCase());
      for (const [f, v] of named(prop, at, name)) add(f, lacks(v, pre));
      if (n.type === "Function") for (const [f, v] of named(data.css.types, "css.types", name)) add(f, lacks(v, pre));
    }
    if (n.type === "Dimension") {
      const unit = n.unit.toLowerCase(), length = data.css.types.length, k = length[unit] ? unit : units[unit.slice(0, 2)];
      if (k && length[k]) add("css.types.length." + k, lacks(length[k]));
    }
  });
  return out;
};

const styles = (text) => {
  const tree = csstree.parse(text, { positions: true, parseCustomProperty: true, onParseError: (e) => note(e.line, "css: " + e.message, unknown) });
  const rules = [];
  csstree.walk(tree, {
    enter(n) {
      const line = n.loc?.start.line;
      if (n.type === "Rule") { if (rules.length) note(line, "css.selectors.nesting", lacks(data.css.selectors.nesting)); rules.push(n); }
      if (n.type === "Raw") note(line, "css: cannot be read: " + n.value.slice(0, 40), unknown);
      if (n.type === "Block") {
        // A style that stands below one for the same property that every view
        // knows is passed over where it is not known.
        const safe = new Set();
        for (const d of n.children) {
          if (d.type !== "Declaration") continue;
          const lack = declaration(d);
          if (!lack.length) safe.add(d.property);
          else if (!safe.has(d.property)) for (const [f, l] of lack) note(d.loc.start.line, f, l);
        }
      }
      if (n.type === "PseudoClassSelector" || n.type === "PseudoElementSelector") {
        const [, pre, name] = /^(-webkit-|)(.*)$/.exec(n.name), s = data.css.selectors[name];
        note(line, "css.selectors." + name, s ? lacks(s, pre) : unknown);
      }
      if (n.type === "NestingSelector") note(line, "css.selectors.nesting", lacks(data.css.selectors.nesting));
      if (n.type === "Atrule") {
        const a = data.css["at-rules"][n.name];
        note(line, "css.at-rules." + n.name, a ? lacks(a) : unknown);
      }
      if (n.type === "Feature" || n.type === "FeatureRange") {
        const media = data.css["at-rules"].media, name = (n.name ?? "").replace(/^(min|max)-/, "");
        if (n.type === "FeatureRange") note(line, "css.at-rules.media.range_syntax", lacks(media.range_syntax));
        else note(line, "css.at-rules.media." + name, media[name] ? lacks(media[name]) : unknown);
      }
    },
    leave(n) { if (n.type === "Rule") rules.pop(); },
  });
};

// Members of the platform's objects, by name.
const members = new Map();
for (const [top, root] of [["api", data.api], ["javascript.builtins", data.javascript.builtins]]) {
  for (const [object, o] of Object.entries(root)) {
    for (const [k, v] of Object.entries(o)) {
      const name = k.replace(/_static$/, "");
      if (v?.__compat) members.set(name, [...(members.get(name) ?? []), [`${top}.${object}.${k}`, v]]);
    }
  }
}
// Passes when one of them is there; else the first is noted.
const anyOf = (line, all = []) => {
  const lack = all.map(([f, v]) => [f, lacks(v)]);
  if (lack.length && lack.every(([, l]) => l)) note(line, ...lack[0]);
};

const script = (text) => {
  let tree;
  try {
    tree = acorn.parse(text, { ecmaVersion: Number(ecma), locations: true, sourceType: "script" });
  } catch (e) {
    note(e.loc?.line ?? 0, "javascript: beyond ECMAScript " + ecma + ": " + e.message, unknown);
    return;
  }
  walk.full(tree, (n) => {
    const line = n.loc.start.line;
    if (n.type === "Identifier") {
      const own = data.api[n.name]?.__compat ? ["api." + n.name, data.api[n.name]] : data.javascript.builtins[n.name]?.__compat ? ["javascript.builtins." + n.name, data.javascript.builtins[n.name]] : null;
      if (own) note(line, own[0], lacks(own[1]));
    }
    // What a data attribute is called is ours.
    const ours = n.object?.property?.name === "dataset";
    if (n.type === "MemberExpression" && !ours && !n.computed && n.property.type === "Identifier") {
      // With the object named, its own member; else any of that name.
      const o = n.object.name ?? "", of = data.javascript.builtins[o] ?? data.api[o.charAt(0).toUpperCase() + o.slice(1)];
      const own = o && (of?.[n.property.name + "_static"] ?? of?.[n.property.name]);
      if (own?.__compat) note(line, `${o}.${n.property.name}`, lacks(own));
      else anyOf(line, members.get(n.property.name));
    }
    if (n.type === "CallExpression" && n.callee.property?.name === "addEventListener" && typeof n.arguments[0]?.value === "string") {
      anyOf(line, members.get(n.arguments[0].value + "_event"));
    }
  });
};

const page = (text) => {
  const elements = data.html.elements, seen = new Set();
  for (const m of text.matchAll(/<([a-z][a-z0-9-]*)((?:\s+[^\s=<>"]+(?:\s*=\s*(?:"[^"]*"|[^\s"<>]+))?)*)\s*\/?>/gi)) {
    const e = m[1].toLowerCase(), line = text.slice(0, m.index).split("\n").length;
    const once = (feature, lack) => { if (!seen.has(feature)) { seen.add(feature); note(line, feature, lack); } };
    once("html.elements." + e, elements[e]?.__compat ? lacks(elements[e]) : unknown);
    for (const a of m[2].matchAll(/\s([^\s=<>"]+)(?:\s*=\s*(?:"[^"]*"|[^\s"<>]+))?/g)) {
      const own = elements[e]?.[a[1]]?.__compat, all = data.html.global_attributes[a[1]];
      if (own) once(`html.elements.${e}.${a[1]}`, lacks(elements[e][a[1]]));
      else if (all?.__compat) once("html.global_attributes." + a[1], lacks(all));
    }
  }
};

for (const f of files) {
  file = basename(f);
  ({ ".css": styles, ".js": script, ".html": page })[extname(f)](readFileSync(f, "utf8"));
}
process.stdout.write(JSON.stringify(found));
