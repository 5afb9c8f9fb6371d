// A form out of the schema alone, by a public library; nothing is labelled by hand.
import Form from "@rjsf/core";
import { customizeValidator } from "@rjsf/validator-ajv8";
import Ajv2020 from "ajv/dist/2020.js";
import { createElement } from "react";
import { createRoot } from "react-dom/client";

const query = new URLSearchParams(location.search);
const answer = await fetch(`${query.get("service")}/v1/schemas/${query.get("call")}`);
const schema = await answer.json();
const validator = customizeValidator({ AjvClass: Ajv2020 });
const holder = document.getElementById("form");
if (!holder) throw new Error("no place for the form");
createRoot(holder).render(
  createElement(Form, {
    schema,
    validator,
    onSubmit: ({ formData }) => {
      document.title = JSON.stringify(formData);
    },
  }),
);
