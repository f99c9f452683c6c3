#include "sim/cli/app.hpp"

int main(int argc, char** argv) { return emberline::cli::run(argc, argv); }
