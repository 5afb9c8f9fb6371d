// A front end's first calls, with nothing but what is generated from the schema.
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

declare const process: { argv: string[] };

type Wire = components["schemas"]["WireSizingRequest"];
type Sized = components["schemas"]["WireSizingAnswer"];

const request: Wire = {
  circuit: "pv-output",
  rules: "nec-2023",
  voltage_v: 38.4,
  length_m: 4.3,
  panels_behind: { i_sc_a: 6.4, strings_in_parallel: 2 },
};

// @ts-expect-error Lengths are in metres, and the name says so.
const wrong: Wire = { ...request, length_ft: 14 };

const client = createClient<paths>({ baseUrl: process.argv[2] ?? "" });

const sized = await client.POST("/v1/wire-sizing", { body: request });
if (sized.error) throw new Error(sized.error.detail);
if (typeof sized.data === "string") throw new Error("asked for a drawing");
const whole = sized.data as Sized; // parts come where `fields` asks for them
const conductor: string | undefined = whole.awg.chosen?.size;
const verdict: "pass" | "review" | "not-assessed" | "fail" = whole.verdict;

const cold = await client.GET("/v1/quick/cold-voc", {
  params: { query: { v_oc_v: 22.9, lowest_ambient_c: -18 } },
});
if (cold.error) throw new Error(cold.error.detail);
if (typeof cold.data !== "object" || cold.data === null) throw new Error("asked for one field");
const volts: number = cold.data.string_v_oc_v;

const refused = await client.POST("/v1/wire-sizing", { body: wrong as Wire });
const pointer: string | undefined = refused.error?.errors[0]?.pointer;

console.log(JSON.stringify({ conductor, verdict, volts, pointer }));
