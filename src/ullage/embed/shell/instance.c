/* Instances: how they are made, initialized and ended, and what they say. */

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "unit.h"

#define LONGEST_MESSAGE 1000

double number_at(const struct memory *memory, size_t offset) {
    double number;
    memcpy(&number, (const char *)memory->unit + offset, sizeof number);
    return number;
}

void put_number(struct instance *c, size_t offset, double number) {
    memcpy((char *)c->memory.unit + offset, &number, sizeof number);
}

int64_t whole_at(const struct memory *memory, size_t offset) {
    int64_t number;
    memcpy(&number, (const char *)memory->unit + offset, sizeof number);
    return number;
}

double time_of(const struct instance *c) { return c->memory.start + number_at(&c->memory, TIME_OFFSET); }

fmi2Status say(struct instance *c, fmi2Status status, const char *category, const char *format, ...) {
    char message[LONGEST_MESSAGE];
    va_list values;
    va_start(values, format);
    vsnprintf(message, sizeof message, format, values);
    va_end(values);
    if (c->callbacks.logger)
        c->callbacks.logger(c->callbacks.componentEnvironment, c->name, status, category, message);
    return status;
}

static void clear(struct instance *c) {
    memset(&c->memory, 0, sizeof c->memory);
    memcpy(c->memory.unit, UNIT_IMAGE, UNIT_SIZE);
    c->memory.stop = HUGE_VAL;
}

static void say_events(struct instance *c) {
    for (int i = 0; c->logs_events && i < EVENT_COUNT; i++) {
        double times = number_at(&c->memory, LOG_OFFSET + 16 * (size_t)i);
        double first = c->memory.start + number_at(&c->memory, LOG_OFFSET + 16 * (size_t)i + 8);
        if (times > 0.0)
            say(c, fmi2OK, "logEvents", "at %.3f s %s (%.0f in this step)", first, EVENTS[i], times);
    }
}

fmi2Status finish(struct instance *c, int64_t status) {
    if (status == 0) {
        say_events(c);
        return fmi2OK;
    }
    c->memory.mode = FAILED;
    if (status < 0 || status >= STATUS_COUNT)
        return refuse(c, "internal error %d at %.3f s: report it", (int)status, time_of(c));
    return refuse(c, "at %.3f s %s", time_of(c), STATUSES[status]);
}

EXPORTED const char *fmi2GetTypesPlatform(void) { return "default"; }

EXPORTED const char *fmi2GetVersion(void) { return "2.0"; }

EXPORTED fmi2Component fmi2Instantiate(fmi2String name, fmi2Type type, fmi2String guid, fmi2String resources,
                                       const fmi2CallbackFunctions *callbacks, fmi2Boolean visible, fmi2Boolean logs) {
    (void)resources, (void)visible;
    const char *known = name && *name ? name : "unit";
    struct instance *c = malloc(sizeof *c + strlen(known) + 1);
    if (!c)
        return NULL;
    memset(&c->callbacks, 0, sizeof c->callbacks);
    if (callbacks)
        c->callbacks = *callbacks;
    c->logs_events = logs;
    memcpy(c->name, known, strlen(known) + 1);
    clear(c);
    if (type != fmi2CoSimulation)
        refuse(c, "this is a unit of co-simulation, not of model exchange");
    else if (!guid || strcmp(guid, UNIT_GUID) != 0)
        refuse(c, "the guid of modelDescription.xml is not that of this binary: export the unit again");
    else
        return c;
    free(c);
    return NULL;
}

EXPORTED void fmi2FreeInstance(fmi2Component component) { free(component); }

EXPORTED fmi2Status fmi2SetDebugLogging(fmi2Component component, fmi2Boolean on, size_t count,
                                        const fmi2String categories[]) {
    struct instance *c = component;
    int events = count == 0;
    for (size_t i = 0; i < count; i++)
        events |= strcmp(categories[i], "logEvents") == 0 || strcmp(categories[i], "logAll") == 0;
    if (events)
        c->logs_events = on;
    return fmi2OK;
}

EXPORTED fmi2Status fmi2SetupExperiment(fmi2Component component, fmi2Boolean has_tolerance, fmi2Real tolerance,
                                        fmi2Real start, fmi2Boolean has_stop, fmi2Real stop) {
    struct instance *c = component;
    (void)has_tolerance, (void)tolerance;
    if (c->memory.mode != INSTANTIATED)
        return refuse(c, "the experiment is set up before the initialization");
    if (!isfinite(start))
        return refuse(c, "the start time is no finite number");
    if (has_stop && !(stop >= start))
        return refuse(c, "the stop time of %.9g s is before the start time of %.9g s", stop, start);
    c->memory.start = c->memory.point = start;
    c->memory.stop = has_stop ? stop : HUGE_VAL;
    return fmi2OK;
}

EXPORTED fmi2Status fmi2EnterInitializationMode(fmi2Component component) {
    struct instance *c = component;
    if (c->memory.mode != INSTANTIATED)
        return refuse(c, "the unit has been initialized already: reset it first");
    c->memory.mode = INITIALIZING;
    return fmi2OK;
}

EXPORTED fmi2Status fmi2ExitInitializationMode(fmi2Component component) {
    struct instance *c = component;
    if (c->memory.mode != INITIALIZING)
        return refuse(c, "the unit is not being initialized");
    int64_t status = ullage_begin(c->memory.unit);
    c->memory.mode = STEPPING;
    c->memory.has_begun = status == 0;
    return finish(c, status);
}

EXPORTED fmi2Status fmi2Terminate(fmi2Component component) {
    struct instance *c = component;
    c->memory.mode = TERMINATED;
    return fmi2OK;
}

EXPORTED fmi2Status fmi2Reset(fmi2Component component) {
    clear(component);
    return fmi2OK;
}
