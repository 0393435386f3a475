// What a client library in JavaScript gets from the service: prints one JSON object.
// Arguments: base address of the service, files with a Parameters body, a Bundle body and a body that is wrong.
import { readFileSync } from 'node:fs';
import { Client } from 'fhir-kit-client';

const [baseUrl, parametersFile, bundleFile, wrongFile] = process.argv.slice(2);
const client = new Client({ baseUrl });
const call = (name, file) => client.operation({ name, method: 'POST', input: JSON.parse(readFileSync(file, 'utf8')) });

async function errorOf(request) {
  try {
    await request;
  } catch (error) {
    return { status: error.response?.status, resource: error.response?.data };
  }
  throw new Error('no error');
}

console.log(JSON.stringify({
  metadata: await client.capabilityStatement(),
  definition: await client.read({ resourceType: 'OperationDefinition', id: 'plan-grafts' }),
  found: await client.search({ resourceType: 'ValueSet', searchParams: { url: 'urn:none' } }),
  withParameters: await call('plan-grafts', parametersFile),
  withBundle: await call('plan-grafts', bundleFile),
  error: await errorOf(call('plan-grafts', wrongFile)),
  notFound: await errorOf(client.read({ resourceType: 'ValueSet', id: 'none' })),
}));
