#include <boost/json/src.hpp>  // header-only: compiled here and nowhere else
