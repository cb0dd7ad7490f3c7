/* A host that knows the standard alone: loads a unit, marches two instances of it, and prints their outputs.

   host UNIT GUID SPEED LOAD OUTPUT...   (value references)

   Before that it loads and unloads the unit 25 times, each time with one step of one instance. */

#include <dlfcn.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "fmi2FunctionTypes.h"

enum { LOADS = 25, STEPS = 10000 };

static void hear(fmi2ComponentEnvironment environment, fmi2String name, fmi2Status status, fmi2String category,
                 fmi2String message, ...) {
    va_list values;
    (void)environment;
    fprintf(stderr, "%s: %d %s: ", name, (int)status, category);
    va_start(values, message);
    vfprintf(stderr, message, values); /* a message is a format */
    va_end(values);
    fputc('\n', stderr);
}

static const fmi2CallbackFunctions CALLBACKS = {hear, calloc, free, NULL, NULL};

static void *library;

static void *function(const char *name) {
    void *found = dlsym(library, name);
    if (!found)
        fprintf(stderr, "%s\n", dlerror()), exit(2);
    return found;
}

static void demand(fmi2Status status, const char *what) {
    if (status != fmi2OK)
        fprintf(stderr, "%s: %d\n", what, (int)status), exit(3);
}

#define CALL(name, ...) demand((*(fmi2##name##TYPE *)function("fmi2" #name))(__VA_ARGS__), #name)

static void load(const char *path) {
    library = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (!library)
        fprintf(stderr, "%s\n", dlerror()), exit(2);
}

static fmi2Component begun(const char *guid, const char *name) {
    fmi2Component made =
        (*(fmi2InstantiateTYPE *)function("fmi2Instantiate"))(name, fmi2CoSimulation, guid, "", &CALLBACKS, 0, 0);
    if (!made)
        exit(4);
    CALL(SetupExperiment, made, fmi2False, 0.0, 0.0, fmi2False, 0.0);
    CALL(EnterInitializationMode, made);
    CALL(ExitInitializationMode, made);
    return made;
}

static void free_instance(fmi2Component component) {
    (*(fmi2FreeInstanceTYPE *)function("fmi2FreeInstance"))(component);
}

int main(int count, char **arguments) {
    const char *path = arguments[1], *guid = arguments[2];
    fmi2ValueReference driven[2], outputs[1000];
    size_t output_count = 0;
    if (count < 6 || count > 1000)
        return 1;
    driven[0] = (fmi2ValueReference)atoi(arguments[3]);
    driven[1] = (fmi2ValueReference)atoi(arguments[4]);
    for (int i = 5; i < count; i++)
        outputs[output_count++] = (fmi2ValueReference)atoi(arguments[i]);
    for (int i = 0; i < LOADS; i++) {
        load(path);
        fmi2Component once = begun(guid, "once");
        CALL(DoStep, once, 0.0, 0.5, fmi2True);
        free_instance(once);
        dlclose(library);
    }
    load(path);
    fmi2Component two[2] = {begun(guid, "one"), begun(guid, "other")};
    for (int k = 0; k < STEPS; k++)
        for (int i = 0; i < 2; i++) {
            double values[2] = {300.0 + 0.1 * (k % 700), 1e6 * i + 100.0 * (k % 900)};
            if (k % 10 == 0)
                CALL(SetReal, two[i], driven, 2, values);
            CALL(DoStep, two[i], k * 0.01, 0.01, fmi2True);
        }
    for (int i = 0; i < 2; i++) {
        fmi2FMUstate state = NULL;
        double values[1000];
        CALL(GetFMUstate, two[i], &state);
        CALL(SetFMUstate, two[i], state);
        CALL(FreeFMUstate, two[i], &state);
        CALL(GetReal, two[i], outputs, output_count, values);
        for (size_t j = 0; j < output_count; j++)
            printf("%.17g\n", values[j]);
        CALL(Terminate, two[i]);
        free_instance(two[i]);
    }
    dlclose(library);
    return 0;
}
