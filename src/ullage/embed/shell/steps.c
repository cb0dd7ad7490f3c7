/* Steps, and states that can be kept and gone on from. */

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "unit.h"

#define SAME_POINT 1e-6 /* by which a host may miss its own times [s]: it may add them up, or count */
#define LAST_STEP 1e-3  /* share of a step by which sums of steps may miss the stop time */
#define OVERSHOOT 1e-6  /* share of its range by which a linear input may miss its end by rounding */

static const char MARK[8] = "ullage u";

struct saved {
    char mark[8];
    char guid[40];
    uint64_t check;
    struct memory memory;
};

/* -- steps -------------------------------------------------------------------------------------------------------- */

EXPORTED fmi2Status fmi2SetRealInputDerivatives(fmi2Component component, const fmi2ValueReference references[],
                                                size_t count, const fmi2Integer orders[], const fmi2Real values[]) {
    struct instance *c = component;
    if (c->memory.mode > STEPPING)
        return refuse(c, "slopes of inputs cannot be set: the unit has ended");
    for (size_t i = 0; i < count; i++) {
        if (references[i] >= VARIABLE_COUNT || VARIABLES[references[i]].causality != 'i')
            return refuse(c, "value reference %u is no input that changes within a step", references[i]);
        if (orders[i] != 1 || !isfinite(values[i]))
            return refuse(c, "%s: only a finite first derivative is taken", VARIABLES[references[i]].name);
    }
    for (size_t i = 0; i < count; i++)
        c->memory.slope[references[i]] = values[i];
    return fmi2OK;
}

EXPORTED fmi2Status fmi2GetRealOutputDerivatives(fmi2Component component, const fmi2ValueReference references[],
                                                 size_t count, const fmi2Integer orders[], fmi2Real values[]) {
    struct instance *c = component;
    (void)references, (void)count, (void)orders, (void)values;
    return refuse(c, "derivatives of outputs are not given");
}

static double end_of(const struct instance *c, size_t i, double seconds) {
    return number_at(&c->memory, VARIABLES[i].offset) + seconds * c->memory.slope[i];
}

/* the inputs as they are set are those at the beginning of a step; each goes from there along its slope */
static fmi2Status set_ends(struct instance *c, double seconds) {
    char *unit = (char *)c->memory.unit;
    fmi2Status status = fmi2OK;
    for (size_t i = 0; i < VARIABLE_COUNT; i++) {
        const struct variable *v = &VARIABLES[i];
        double end = end_of(c, i, seconds), slack = OVERSHOOT * (v->high - v->low);
        if (c->memory.slope[i] != 0.0 && !(end >= v->low - slack && end <= v->high + slack))
            status = discard(c, "%s would be %g %s at the end of the step: %g to %g is accepted", v->name, end, v->unit,
                             v->low, v->high);
    }
    if (status != fmi2OK)
        return status;
    memcpy(unit + BEFORE_OFFSET, unit + AFTER_OFFSET, INPUTS_SIZE);
    for (size_t i = 0; i < VARIABLE_COUNT; i++) {
        if (c->memory.slope[i] == 0.0)
            continue;
        put_number(c, VARIABLES[i].offset, fmin(fmax(end_of(c, i, seconds), VARIABLES[i].low), VARIABLES[i].high));
        c->memory.slope[i] = 0.0;
    }
    return fmi2OK;
}

EXPORTED fmi2Status fmi2DoStep(fmi2Component component, fmi2Real point, fmi2Real seconds, fmi2Boolean no_way_back) {
    struct instance *c = component;
    (void)no_way_back;
    if (c->memory.mode != STEPPING)
        return refuse(c, c->memory.mode < STEPPING ? "the unit has not been initialized" : "the unit has ended");
    if (!(seconds >= 0.0) || !isfinite(seconds))
        return refuse(c, "a step of %g s is none that can be made", seconds);
    if (!(fabs(point - c->memory.point) <= SAME_POINT))
        return refuse(c, "the step begins at %.15g s, the unit stands at %.15g s", point, c->memory.point);
    if (point + seconds > c->memory.stop + SAME_POINT + LAST_STEP * seconds)
        return refuse(c, "the step ends at %.15g s, after the stop time of %.15g s", point + seconds, c->memory.stop);
    fmi2Status status = set_ends(c, seconds);
    if (status != fmi2OK)
        return status;
    status = finish(c, ullage_advance(c->memory.unit, seconds));
    if (status == fmi2OK)
        c->memory.point = point + seconds;
    return status;
}

EXPORTED fmi2Status fmi2CancelStep(fmi2Component component) {
    struct instance *c = component;
    return refuse(c, "a step ends before its call returns: there is none to be cancelled");
}

static fmi2Status no_status(struct instance *c) {
    return say(c, fmi2Discard, "logStatusDiscard", "no step is pending: its status is what its call returned");
}

EXPORTED fmi2Status fmi2GetStatus(fmi2Component component, const fmi2StatusKind kind, fmi2Status *value) {
    (void)kind, (void)value;
    return no_status(component);
}

EXPORTED fmi2Status fmi2GetRealStatus(fmi2Component component, const fmi2StatusKind kind, fmi2Real *value) {
    if (kind != fmi2LastSuccessfulTime)
        return no_status(component);
    *value = time_of(component);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2GetIntegerStatus(fmi2Component component, const fmi2StatusKind kind, fmi2Integer *value) {
    (void)kind, (void)value;
    return no_status(component);
}

EXPORTED fmi2Status fmi2GetBooleanStatus(fmi2Component component, const fmi2StatusKind kind, fmi2Boolean *value) {
    struct instance *c = component;
    if (kind != fmi2Terminated)
        return no_status(c);
    *value = c->memory.mode == TERMINATED;
    return fmi2OK;
}

EXPORTED fmi2Status fmi2GetStringStatus(fmi2Component component, const fmi2StatusKind kind, fmi2String *value) {
    (void)kind, (void)value;
    return no_status(component);
}

/* -- states ------------------------------------------------------------------------------------------------------- */

EXPORTED fmi2Status fmi2GetFMUstate(fmi2Component component, fmi2FMUstate *state) {
    struct instance *c = component;
    if (!*state)
        *state = malloc(sizeof c->memory);
    if (!*state)
        return refuse(c, "there is no memory for a state");
    memcpy(*state, &c->memory, sizeof c->memory);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2SetFMUstate(fmi2Component component, fmi2FMUstate state) {
    struct instance *c = component;
    if (!state)
        return refuse(c, "there is no state to go on from");
    memcpy(&c->memory, state, sizeof c->memory);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2FreeFMUstate(fmi2Component component, fmi2FMUstate *state) {
    (void)component;
    if (state) {
        free(*state);
        *state = NULL;
    }
    return fmi2OK;
}

/* FNV-1a, 64 bits: finds what was damaged, guards against nothing else */
static uint64_t check_of(const void *data, size_t size) {
    uint64_t check = 14695981039346656037u;
    for (size_t i = 0; i < size; i++)
        check = (check ^ ((const unsigned char *)data)[i]) * 1099511628211u;
    return check;
}

EXPORTED fmi2Status fmi2SerializedFMUstateSize(fmi2Component component, fmi2FMUstate state, size_t *size) {
    (void)component, (void)state;
    *size = sizeof(struct saved);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2SerializeFMUstate(fmi2Component component, fmi2FMUstate state, fmi2Byte data[], size_t size) {
    struct instance *c = component;
    struct saved saved;
    if (!state || size < sizeof saved)
        return refuse(c, "a state takes %u bytes", (unsigned)sizeof saved);
    memset(&saved, 0, sizeof saved);
    memcpy(saved.mark, MARK, sizeof saved.mark);
    memcpy(saved.guid, UNIT_GUID, sizeof UNIT_GUID);
    memcpy(&saved.memory, state, sizeof saved.memory);
    saved.check = check_of(&saved.memory, sizeof saved.memory);
    memcpy(data, &saved, sizeof saved);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2DeSerializeFMUstate(fmi2Component component, const fmi2Byte data[], size_t size,
                                            fmi2FMUstate *state) {
    struct instance *c = component;
    struct saved saved;
    if (size < offsetof(struct saved, check) || memcmp(data, MARK, sizeof MARK) != 0)
        return refuse(c, "this is no state that a unit of ullage has kept");
    if (memcmp(data + offsetof(struct saved, guid), UNIT_GUID, sizeof UNIT_GUID) != 0)
        return refuse(c, "the state is that of another unit, or of this one exported at another time");
    if (size < sizeof saved)
        return refuse(c, "this is no state, or a part of it: %u bytes are missing", (unsigned)(sizeof saved - size));
    memcpy(&saved, data, sizeof saved);
    if (saved.check != check_of(&saved.memory, sizeof saved.memory))
        return refuse(c, "the state is damaged");
    *state = malloc(sizeof saved.memory);
    if (!*state)
        return refuse(c, "there is no memory for a state");
    memcpy(*state, &saved.memory, sizeof saved.memory);
    return fmi2OK;
}

EXPORTED fmi2Status fmi2GetDirectionalDerivative(fmi2Component component, const fmi2ValueReference unknown[],
                                                 size_t unknown_count, const fmi2ValueReference known[],
                                                 size_t known_count, const fmi2Real seed[], fmi2Real values[]) {
    struct instance *c = component;
    (void)unknown, (void)unknown_count, (void)known, (void)known_count, (void)seed, (void)values;
    return refuse(c, "directional derivatives are not given");
}
