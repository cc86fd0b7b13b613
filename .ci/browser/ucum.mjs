// Converts amounts by the UCUM implementation of the Lister Hill National
// Center for Biomedical Communications, as a second opinion on the table of
// units:
//
//   node ucum.mjs <folder with node_modules>
//
// It reads a list of questions as JSON, {from, value, to}, and prints a list of
// answers in the same order: {value}, or {error} in the library's own words.
// A question with no "to" asks whether "from" is a valid code; the answer is
// {code}, as the library writes it, or {error}.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { resolve } from "node:path";

const load = createRequire(resolve(process.argv[2], "package.json"));
const ucum = load("@lhncbc/ucum-lhc").UcumLhcUtils.getInstance();

const words = (said) => [said ?? []].flat().join(" ") || "no reason given";
const answer = ({ from, value, to }) => {
  if (to === undefined) {
    const r = ucum.validateUnitString(from);
    return r.status === "valid" ? { code: r.ucumCode } : { error: words(r.msg) };
  }
  const r = ucum.convertUnitTo(from, value, to);
  return r.status === "succeeded" ? { value: r.toVal } : { error: words(r.msg) };
};

process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(answer)) + "\n");
