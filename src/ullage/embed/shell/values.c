/* Values of variables: what may be read, what may be set and when, and what is accepted. */

#include <math.h>

#include "unit.h"

static const char *type_of(char kind) {
    return kind == 'r' ? "Real" : kind == 'i' ? "Integer" : kind == 'b' ? "Boolean" : "String";
}

/* return the place of a variable of a kind, or -1 with a message */
static long place_of(struct instance *c, fmi2ValueReference reference, char kind) {
    if (reference >= VARIABLE_COUNT)
        refuse(c, "value reference %u is no variable of this unit", reference);
    else if (VARIABLES[reference].kind != kind)
        refuse(c, "value reference %u is %s, of type %s, not %s", reference, VARIABLES[reference].name,
              type_of(VARIABLES[reference].kind), type_of(kind));
    else
        return (long)reference;
    return -1;
}

static int is_settable(struct instance *c, const struct variable *v) {
    int input = v->causality == 'i' || v->causality == 'h';
    if (input && c->memory.mode <= STEPPING)
        return 1;
    if (v->causality == 'p' && c->memory.mode <= INITIALIZING)
        return 1;
    if (v->causality == 'p')
        refuse(c, "%s is a parameter: it can be set before the end of the initialization, not after", v->name);
    else if (input)
        refuse(c, "%s cannot be set: the unit has ended", v->name);
    else
        refuse(c, "%s is an output: it cannot be set", v->name);
    return 0;
}

static fmi2Status worse(fmi2Status one, fmi2Status other) { return one > other ? one : other; }

static fmi2Status set(struct instance *c, fmi2ValueReference reference, char kind, double value) {
    long place = place_of(c, reference, kind);
    if (place < 0 || !is_settable(c, &VARIABLES[place]))
        return fmi2Error;
    const struct variable *v = &VARIABLES[place];
    double slack = 1e-9 * fmax(fabs(v->low), fabs(v->high));
    int within = value >= v->low - slack && value <= v->high + slack;
    if (within && (!v->whole || value == floor(value))) {
        put_number(c, v->offset, fmin(fmax(value, v->low), v->high));
        return fmi2OK;
    }
    /* an input can be set to something else and gone on with; with another parameter it would be another truck */
    fmi2Status status = v->causality == 'p' ? fmi2Error : fmi2Discard;
    const char *category = v->causality == 'p' ? "logStatusError" : "logStatusDiscard";
    if (within)
        return say(c, status, category, "%s is %g: a whole number is wanted", v->name, value);
    return say(c, status, category, "%s is %g %s: %g to %g is accepted", v->name, value, v->unit, v->low, v->high);
}

/* return where the values of variables are read; before the first step outputs are those that the unit would begin with */
static const struct memory *read_from(struct instance *c, const fmi2ValueReference references[], size_t count, char kind) {
    int outputs = 0;
    for (size_t i = 0; i < count; i++) {
        if (place_of(c, references[i], kind) < 0)
            return NULL;
        outputs |= VARIABLES[references[i]].causality == 'o';
    }
    if (!outputs || c->memory.has_begun)
        return &c->memory;
    if (c->memory.mode != INITIALIZING) {
        refuse(c, "outputs are known from the initialization on");
        return NULL;
    }
    c->shown = c->memory;
    int64_t status = ullage_begin(c->shown.unit);
    if (status == 0)
        return &c->shown;
    refuse(c, "outputs are not known: %s", status > 0 && status < STATUS_COUNT ? STATUSES[status] : "internal error");
    return NULL;
}

EXPORTED fmi2Status fmi2GetReal(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                fmi2Real values[]) {
    const struct memory *memory = read_from(component, references, count, 'r');
    for (size_t i = 0; memory && i < count; i++)
        values[i] = number_at(memory, VARIABLES[references[i]].offset);
    return memory ? fmi2OK : fmi2Error;
}

EXPORTED fmi2Status fmi2GetInteger(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                   fmi2Integer values[]) {
    const struct memory *memory = read_from(component, references, count, 'i');
    for (size_t i = 0; memory && i < count; i++)
        values[i] = (fmi2Integer)whole_at(memory, VARIABLES[references[i]].offset);
    return memory ? fmi2OK : fmi2Error;
}

EXPORTED fmi2Status fmi2GetBoolean(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                   fmi2Boolean values[]) {
    const struct memory *memory = read_from(component, references, count, 'b');
    for (size_t i = 0; memory && i < count; i++)
        values[i] = number_at(memory, VARIABLES[references[i]].offset) != 0.0;
    return memory ? fmi2OK : fmi2Error;
}

EXPORTED fmi2Status fmi2GetString(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                  fmi2String values[]) {
    struct instance *c = component;
    (void)values;
    return count == 0 || place_of(c, references[0], 's') >= 0 ? fmi2OK : fmi2Error;
}

EXPORTED fmi2Status fmi2SetReal(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                const fmi2Real values[]) {
    fmi2Status status = fmi2OK;
    for (size_t i = 0; i < count; i++)
        status = worse(status, set(component, references[i], 'r', values[i]));
    return status;
}

EXPORTED fmi2Status fmi2SetInteger(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                   const fmi2Integer values[]) {
    fmi2Status status = fmi2OK;
    for (size_t i = 0; i < count; i++)
        status = worse(status, set(component, references[i], 'i', values[i]));
    return status;
}

EXPORTED fmi2Status fmi2SetBoolean(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                   const fmi2Boolean values[]) {
    fmi2Status status = fmi2OK;
    for (size_t i = 0; i < count; i++)
        status = worse(status, set(component, references[i], 'b', values[i] != 0));
    return status;
}

EXPORTED fmi2Status fmi2SetString(fmi2Component component, const fmi2ValueReference references[], size_t count,
                                  const fmi2String values[]) {
    struct instance *c = component;
    (void)values;
    return count == 0 || place_of(c, references[0], 's') >= 0 ? fmi2OK : fmi2Error;
}
